/** Expressions of C with no more parentheses than a careful person writes, and their layout over lines. */

export interface Expression {
  text: string;
  rank: Rank;
  /** The lines of a long expression. */
  pieces: string[];
  /** Positions of the states that the text reads through the state pointer. */
  reads: ReadonlySet<number>;
}

/** How tightly an expression binds (ISO/IEC 9899:1999, 6.5), loosest first. */
export type Rank = (typeof RANKS)[number];

const RANKS = [
  'conditional',
  'or',
  'and',
  'xor',
  'equality',
  'relation',
  'sum',
  'product',
  'unary',
  'primary',
] as const;

const NONE: ReadonlySet<number> = new Set();

export function primary(text: string, reads: ReadonlySet<number> = NONE): Expression {
  return { text, rank: 'primary', pieces: [text], reads };
}

export function integer(value: number): Expression {
  return { ...primary(`${value}`), rank: value < 0 ? 'unary' : 'primary' };
}

export function call(name: string, args: readonly (Expression | string)[]): Expression {
  const texts = args.map((a) => (typeof a === 'string' ? a : a.text));
  const text = `${name}(${texts.join(', ')})`;
  const inside = texts.map((t, i) => `    ${t}${i < texts.length - 1 ? ',' : ')'}`);
  return {
    text,
    rank: 'primary',
    pieces: texts.length > 1 ? [`${name}(`, ...inside] : [text],
    reads: union(args.filter((a) => typeof a !== 'string')),
  };
}

export function unary(operator: '!' | '-', a: Expression): Expression {
  const text = `${operator}${atLeast(a, 'primary')}`;
  return { text, rank: 'unary', pieces: [text], reads: a.reads };
}

/** `a op b` for `+ - * / %`, grouped from the left; the right side keeps its parentheses, so no sum is formed in another order. */
export function arithmetic(operator: '+' | '-' | '*' | '/' | '%', a: Expression, b: Expression): Expression {
  const rank: Rank = operator === '+' || operator === '-' ? 'sum' : 'product';
  return chained(rank, operator, a, atLeast(a, rank), b, atLeast(b, tighter(rank)));
}

export function relation(operator: '<' | '<=' | '>' | '>=', a: Expression, b: Expression): Expression {
  return joined('relation', operator, a, atLeast(a, 'sum'), b, atLeast(b, 'sum'));
}

export function equality(operator: '==' | '!=', a: Expression, b: Expression): Expression {
  return joined('equality', operator, a, atLeast(a, 'sum'), b, atLeast(b, 'sum'));
}

export function exclusiveOr(a: Expression, b: Expression): Expression {
  return joined('xor', '^', a, atLeast(a, 'unary'), b, atLeast(b, 'unary'));
}

export function logical(operator: '&&' | '||', a: Expression, b: Expression): Expression {
  const rank: Rank = operator === '&&' ? 'and' : 'or';
  const side = (e: Expression) => (e.rank === rank ? e.text : atLeast(e, 'equality'));
  const from = (e: Expression) => (e.rank === rank ? e.pieces : [side(e)]);
  const [first, ...rest] = from(b);
  return {
    text: `${side(a)} ${operator} ${side(b)}`,
    rank,
    pieces: [...from(a), `${operator} ${first}`, ...rest],
    reads: union([a, b]),
  };
}

/** `when ? yes : no`, where `no` may be the next of a chain. */
export function conditional(when: Expression, yes: Expression, no: Expression): Expression {
  const condition = atLeast(when, 'or');
  const value = atLeast(yes, 'or');
  const chain = no.rank === 'conditional' ? no.pieces : [no.text];
  return {
    text: `${condition} ? ${value} : ${no.text}`,
    rank: 'conditional',
    pieces: [`${condition} ? ${value}`, `: ${chain[0]}`, ...chain.slice(1)],
    reads: union([when, yes, no]),
  };
}

/** `head expression;` on one line if it fits `width` columns, otherwise broken where the expression may be broken. */
export function statement(head: string, e: Expression, width = 100): string {
  const line = `    ${head} ${e.text};`;
  if (line.length <= width || e.pieces.length === 1) return line;
  return `    ${head}\n${e.pieces.map((piece) => `        ${piece}`).join('\n')};`;
}

function atLeast(e: Expression, rank: Rank): string {
  return RANKS.indexOf(e.rank) >= RANKS.indexOf(rank) ? e.text : `(${e.text})`;
}

function tighter(rank: Rank): Rank {
  return RANKS[RANKS.indexOf(rank) + 1] as Rank;
}

function joined(
  rank: Rank,
  operator: string,
  a: Expression,
  left: string,
  b: Expression,
  right: string,
): Expression {
  const text = `${left} ${operator} ${right}`;
  return { text, rank, pieces: [text], reads: union([a, b]) };
}

function chained(
  rank: Rank,
  operator: string,
  a: Expression,
  left: string,
  b: Expression,
  right: string,
): Expression {
  const from = a.rank === rank ? a.pieces : [left];
  return { ...joined(rank, operator, a, left, b, right), pieces: [...from, `${operator} ${right}`] };
}

function union(list: readonly Expression[]): ReadonlySet<number> {
  return new Set(list.flatMap((e) => [...e.reads]));
}
