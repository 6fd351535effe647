/**
 * Faults put into what the readers emit: one limit, operator or constant of the text altered. Each must show in the
 * comparison with the interpreter, or be shown to be no fault: by the solver, or by trying every value.
 */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { crcTable } from '../../src/can/crc.ts';
import { HELPERS, supportText } from '../../src/logic/c-support.ts';
import { emitC } from '../../src/logic/emit-c.ts';
import { smtSteps } from '../../src/logic/emit-smt.ts';
import { cone, inputIndex, operands, results } from '../../src/logic/graph.ts';
import { interpret } from '../../src/logic/interpret.ts';
import { compiledFrom, emitJs } from '../../src/logic/run.ts';
import { openSolver, type Solver, SolverError } from '../../src/logic/solver.ts';
import { survivorsOfC, withoutGcc } from './compiler.ts';
import { steeringLimiter } from './example.ts';
import {
  alter,
  drawMutants,
  everyValue,
  type Mutant,
  type MutationRule,
  swap,
  tellingPoints,
} from './mutation.ts';
import { drawPoints, type Point } from './programs.ts';
import { agrees, sameProgram, withConstant } from './readers.ts';

const SEED = 20261125;
/** How many faults are drawn for each text (of all: 113, 391 and 221, every one of which was noticed or shown to be none). */
const COUNT = { JavaScript: 60, C: 40, 'SMT text': 40 } as const;

const program = steeringLimiter();
const points: Point[] = [...drawPoints(program, 20_000, SEED), ...everyValue(program, 'speed_raw', SEED)];
const expected = points.map(({ state, inputs }) => {
  const { outputs, next } = interpret(program, state, inputs[0]!);
  return [...outputs, ...next];
});

/** Faults of whole readers, none of which is harmless here: rounding, order of a choice, wrap of the clock, sign, bytes of a CRC. */
const CHOSEN: Record<keyof typeof COUNT, [from: string | RegExp, to: string][]> = {
  JavaScript: [
    ['+ 255) >> 8', ') >> 8'],
    [/(?<=const (v\d+) = v\d+) < (?=v\d+ \? v\d+ :)/, ' > '],
    [/(?<=const (v\d+) = v\d+) > (?=v\d+ \? v\d+ :)/, ' < '],
    [/(?<=const e\d+ = .*)>>> 0/, '| 0'],
    ['>> 8)) | 0)', '>> 7)) | 0)'],
    [/(?<=\(r = )255/, '0'],
    [/(v\d+) \? (v\d+) : (v\d+);/, '$1 ? $3 : $2;'],
  ],
  C: [
    ['(change + 255) / 256', 'change / 256'],
    ['fallen > to', 'fallen < to'],
    ['return a < b ? a : b', 'return a < b ? b : a'],
    ['raised > hi ? hi : raised', 'raised'],
    ['(uint32_t)(now - before)', '(now > before ? now - before : 0u)'],
    ['crc ^ bytes[i]', 'crc ^ bytes[0]'],
    ['x < 0 ? -x : x', 'x'],
    ['i < count; i++) {\n        crc', 'i < count - 1; i++) {\n        crc'],
  ],
  'SMT text': [
    ['#b0000000011111111', '#b0000000000000000'],
    [/\(bvsub (\S*in\.now_ms@0) (\S*state\.before_ms@0)\)/, '(bvsub $2 $1)'],
    ['(bvsle ', '(bvsge '],
    ['sign_extend', 'zero_extend'],
    ['(_ extract 15 8)', '(_ extract 14 7)'],
    [/\(bvxor #b1+/, '(bvxor #b00000000'],
    ['(not ', '(or false '],
  ],
};

let solver: Solver;
beforeAll(async () => {
  solver = await openSolver();
});
afterAll(() => solver.close());

const oneMore = (match: string) => `${Number(match) + 1}`;

const body = emitJs(program);
function jsAgrees(altered: string): boolean {
  const { step } = compiledFrom(program, altered);
  const outputs = new Float64Array(program.outputs.length);
  return points.every(({ state, inputs }, i) => {
    const next = Float64Array.from(state);
    step(next, inputs[0]!, outputs);
    return [...outputs, ...next].every((value, k) => value === expected[i]![k]);
  });
}

test('seeded faults in the generated JavaScript show, or are shown to be none', async () => {
  const rules: MutationRule[] = [
    { pattern: / <=? /g, replacement: swap([' < ', ' <= ']) },
    { pattern: / > /g, replacement: () => ' >= ' },
    { pattern: / === /g, replacement: () => ' !== ' },
    { pattern: /(?<=v\d+) [+-] (?=v)/g, replacement: swap([' + ', ' - ']) },
    { pattern: /(?<=v\d+) [&|] (?=v)/g, replacement: swap([' & ', ' | ']) },
    // Not the 1 of `? 1 : 0`, where any other number would do for true.
    { pattern: /(?<=[=,?:(+&-] )(?<!let r = )(?<!\? (?=1 : 0;))-?\d+(?=[;,) ])/g, replacement: oneMore },
  ];
  expect(jsAgrees(body)).toBe(true);
  for (const [from, to] of CHOSEN.JavaScript)
    expect([from, jsAgrees(replaced(body, from, to))]).toEqual([from, false]);
  const mutants = drawMutants(body, rules, COUNT.JavaScript, SEED);
  const alive = mutants.filter((m) => jsAgrees(alter(body, m)));
  const harmless: Mutant[] = [];
  for (const m of alive) if ((await sameAtTie(m)) || (await sameConstant(m)) || sameLine(m)) harmless.push(m);
  verdict('JavaScript', mutants, alive, harmless);
});

/** Runs a line of generated JavaScript before and after over all values of the intervals of its operands. */
function sameLine({ before, after }: Mutant): boolean {
  const id = Number(/^const [ve](\d+) = /.exec(before)?.[1]);
  const node = program.nodes[id]!;
  const read = [...new Set(operands(node))];
  const ranges = read.map((operand) => program.nodes[operand]!);
  const combinations = ranges.reduce((product, { lo, hi }) => product * (hi - lo + 1), 1);
  if (combinations > 2 ** 24) return false;
  const loops = ranges.map(
    ({ lo, hi }, i) => `for (let v${read[i]} = ${lo}; v${read[i]} <= ${hi}; v${read[i]}++)`,
  );
  const line = (text: string) => `(() => { let r = 0; ${text} return v${id}; })()`;
  const all = `${loops.join('\n')} if (${line(before)} !== ${line(after)}) return false;\nreturn true;`;
  return new Function('t', all)(program.nodes.map((n) => (n.kind === 'crc' ? crcTable(n) : null)));
}

/** A number that stands for one constant of the program, used once: the solver finds no difference with the other number. */
async function sameConstant({ before, after }: Mutant): Promise<boolean> {
  const numbers = (text: string) => text.match(/(?<![\w.])-?\d+(?!\w)/g) ?? [];
  const at = numbers(before).findIndex((n, i) => n !== numbers(after)[i]);
  const [from, to] = [Number(numbers(before)[at]), Number(numbers(after)[at])];
  const ids = program.nodes.flatMap((n, id) => (n.kind === 'const' && n.value === from ? [id] : []));
  const used = cone(program, results(program)).flatMap((id) => operands(program.nodes[id]!));
  const uses = used.filter((id) => ids.includes(id));
  if (uses.length !== 1) return false;
  return sameProgram(solver, program, withConstant(program, uses[0] as number, to));
}

/** x < y ? x : y and its like give the same with <=, and so does the magnitude at 0; by the solver for all of 32 bits. */
async function sameAtTie({ before, after }: Mutant): Promise<boolean> {
  const magnitude = before === 'return x < 0 ? -x : x;' && /^return x (<= 0|< 1) \? -x : x;$/.test(after);
  if (!TIE.test(before) && !magnitude) return false;
  const differs = (a: string, b: string) => `(distinct (ite (${a} x y) x y) (ite (${b} x y) x y))`;
  const zero = `#x${'0'.repeat(8)}`;
  const size = (negative: string) => `(ite ${negative} (bvneg x) x)`;
  const text = `(declare-const x (_ BitVec 32))(declare-const y (_ BitVec 32))(assert (or
    ${differs('bvslt', 'bvsle')} ${differs('bvsgt', 'bvsge')} ${differs('bvult', 'bvule')}
    (distinct ${size(`(bvslt x ${zero})`)} ${size(`(bvsle x ${zero})`)})
    (distinct ${size(`(bvslt x ${zero})`)} ${size('(bvslt x #x00000001)')})))`;
  return (await solver.check(text)).verdict === 'unsat';
}

const TIE = /(?:return|=) (\w+) [<>]=? (?:\(uint32_t\))?(\w+) \? (?:\(int32_t\))?(?:\1 : \2|\2 : \1);$/;

/** What leads from the raw speed to the level, both of which are outputs: no fault if all was right at every raw speed. */
function sameAtEverySpeed({ before }: Mutant): boolean {
  if (!/points\[|from\.|fallen|^\{ \d+, \d+, \d+ \}|^const int32_t speed = /.test(before)) return false;
  const at = inputIndex(program, 'speed_raw');
  const { lo, hi } = program.inputs[at]!;
  return new Set(points.map(({ inputs }) => inputs[0]![at])).size === hi - lo + 1;
}

test.skipIf(withoutGcc)('seeded faults in the generated C show, or are shown to be none', async () => {
  const rules: MutationRule[] = [
    { pattern: / [<>]=? /g, replacement: swap([' < ', ' <= '], [' > ', ' >= ']) },
    { pattern: / [=!]= /g, replacement: swap([' == ', ' != ']) },
    { pattern: / (?:&&|\|\|) /g, replacement: swap([' && ', ' || ']) },
    { pattern: / [+-] /g, replacement: swap([' + ', ' - ']) },
    { pattern: /(?<!int32_t )bw_(?:min|max)\(/g, replacement: swap(['bw_min(', 'bw_max(']) },
    { pattern: /!(?=[\w(])/g, replacement: () => '' },
    { pattern: /(?<=[ ({,-])\d+(?=[;,) u])/g, replacement: oneMore },
    { pattern: /0x[0-9A-F]+/g, replacement: (m) => `0x${(Number(m) ^ 1).toString(16)}` },
  ];
  const { declarations, definitions, support } = emitC(program);
  const rest = `${supportText([...support, ...Object.values(HELPERS)])}\n${definitions}`.replace(
    /\/\*.*?\*\//g,
    '',
  );
  const mutants = drawMutants(rest, rules, COUNT.C, SEED);
  const rows = points.map(({ state, inputs }, i) => [...state, ...inputs[0]!, ...expected[i]!]);
  const survived = survivorsOfC(
    program,
    [
      rest,
      ...CHOSEN.C.map(([from, to]) => replaced(rest, from, to)),
      ...mutants.map((m) => alter(rest, m)),
    ].map((text) => ({ declarations, rest: text })),
    rows,
  );
  const [unaltered, ...altered] = survived;
  expect(unaltered).toBe(true);
  expect(CHOSEN.C.filter((_, i) => altered[i])).toEqual([]);
  const alive = mutants.filter((_, i) => altered[CHOSEN.C.length + i]);
  const harmless: Mutant[] = [];
  for (const m of alive)
    if (sameAtEverySpeed(m) || (await sameAtTie(m)) || (await sameConstant(m))) harmless.push(m);
  verdict('C', mutants, alive, harmless);
});

test('seeded faults in the SMT text show, or the solver shows the altered definition equal to the right one', async () => {
  const rules: MutationRule[] = [
    { pattern: /bv[us]l[te]\b/g, replacement: swap(['bvult', 'bvule'], ['bvslt', 'bvsle']) },
    { pattern: /\bbv(?:add|sub)\b/g, replacement: swap(['bvadd', 'bvsub']) },
    { pattern: /(?<=\()(?:and|or)(?= )/g, replacement: swap(['and', 'or']) },
    { pattern: /(?:zero|sign)_extend/g, replacement: swap(['zero_extend', 'sign_extend']) },
    { pattern: /\(not /g, replacement: () => '(and true ' },
    { pattern: /(?<!\(define-fun \S*state\.\S+ \(\) .*)#b[01]+/g, replacement: lowestBitTurned },
  ];
  const few = tellingPoints(program, points).map((point) => ({
    ...point,
    values: interpret(program, point.state, point.inputs[0]!).values,
  }));
  expect(await agrees(solver, program, few, (text) => text)).toBe(true);
  for (const [from, to] of CHOSEN['SMT text']) {
    const kept = await smtAgrees((text) => replaced(text, from, to), few);
    expect([from, kept]).toEqual([from, false]);
  }
  const all = { steps: 1, start: few[0]!.state, roots: [...program.nodes.keys()] };
  const mutants = drawMutants(smtSteps(program, all).text, rules, COUNT['SMT text'], SEED);
  const alive: Mutant[] = [];
  for (const m of mutants) if (await smtAgrees((text) => alter(text, m), few)) alive.push(m);
  const harmless: Mutant[] = [];
  for (const m of alive) if (await sameDefinition(m)) harmless.push(m);
  verdict('SMT text', mutants, alive, harmless);
});

/** Text that the solver rejects has shown its fault too. */
async function smtAgrees(
  altered: (text: string) => string,
  few: Parameters<typeof agrees>[2],
): Promise<boolean> {
  try {
    return (
      (await agrees(solver, program, few.slice(0, 5), altered)) &&
      (await agrees(solver, program, few.slice(5), altered))
    );
  } catch (error) {
    if (error instanceof SolverError) return false;
    throw error;
  }
}

/** Asks the solver for any state and inputs at which the altered definition differs. */
async function sameDefinition({ before, after }: Mutant): Promise<boolean> {
  const symbol = /^\(define-fun (\S+) /.exec(before)?.[1];
  if (!symbol) return false;
  const roots = [...program.nodes.keys()];
  const smt = smtSteps(program, { steps: 1, start: 'any', roots });
  const other = after.replace(symbol, 'altered');
  const answer = await solver.check(`${smt.text}${other}\n(assert (distinct altered ${symbol}))\n`);
  return answer.verdict === 'unsat';
}

/** The text with the first match replaced; there must be one. */
function replaced(text: string, from: string | RegExp, to: string): string {
  const result = text.replace(from, to);
  expect(result, `${from} is in the text`).not.toBe(text);
  return result;
}

/** A literal with its lowest bit the other way. */
function lowestBitTurned(literal: string): string {
  return `${literal.slice(0, -1)}${literal.endsWith('1') ? '0' : '1'}`;
}

/** Prints the score and fails on every fault that neither shows nor is shown to be none. */
function verdict(
  reader: keyof typeof COUNT,
  mutants: readonly Mutant[],
  alive: readonly Mutant[],
  harmless: readonly Mutant[],
): void {
  console.log(
    `${reader}: ${CHOSEN[reader].length} of ${CHOSEN[reader].length} chosen faults noticed; seed ${SEED}, ${mutants.length} drawn, ${mutants.length - alive.length} noticed, ${harmless.length} shown to be none`,
  );
  expect(mutants.length).toBe(COUNT[reader]);
  expect(alive.filter((m) => !harmless.includes(m)).map((m) => `${m.before}   became   ${m.after}`)).toEqual(
    [],
  );
}
