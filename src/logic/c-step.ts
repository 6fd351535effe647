/** The step function of a program in C: what becomes a local, what is written in place, and in which order. */
import { comment, constant, cType, stepHead, wrapped } from './c-declarations.ts';
import {
  arithmetic,
  call,
  conditional,
  type Expression,
  equality,
  exclusiveOr,
  integer,
  logical,
  primary,
  relation,
  statement,
  unary,
} from './c-expression.ts';
import { type CSupport, crcHelper, HELPERS } from './c-support.ts';
import type { LogicNode, NodeId, Program, Table } from './form.ts';
import { cone, operands, results } from './graph.ts';

/** Longest text of an unnamed value that is written where it is used instead of in a local of its own. */
const INLINE = 64;

/** Names for unnamed locals, by kind of node. */
const HINTS: Partial<Record<LogicNode['kind'], string>> = {
  add: 'sum',
  sub: 'difference',
  mulk: 'product',
  divk: 'quotient',
  wrap: 'low',
  xor: 'mixed',
  min: 'least',
  max: 'greatest',
  lt: 'less',
  le: 'at_most',
  eq: 'equal',
  and: 'both',
  or: 'either',
  not: 'negated',
  select: 'chosen',
  clockSub: 'elapsed',
  crc: 'crc',
};

/** Writes the step function: decides node by node, in their order, what becomes a local and what is written in place. */
export class StepWriter {
  readonly #program: Program;
  readonly #users: NodeId[][];
  /** How often each output or next state takes a node as it is. */
  readonly #taken: number[];
  readonly #written = new Map<NodeId, Expression>();
  /** Nodes that have a local. */
  readonly #locals = new Set<NodeId>();
  readonly #names = new Set(['in', 'state', 'out']);
  readonly #lines: string[] = [];
  /** Every helper that an expression was written with, also one that a larger pattern has replaced since. */
  readonly #helpers = new Map<string, CSupport>();
  readonly #tables = new Map<string, { name: string; table: Table }>();

  constructor(program: Program) {
    this.#program = program;
    this.#users = program.nodes.map(() => []);
    this.#taken = program.nodes.map(() => 0);
    for (const id of cone(program, results(program)))
      for (const operand of operands(program.nodes[id] as LogicNode)) this.#users[operand]?.push(id);
    for (const id of results(program)) this.#taken[id]! += 1;
  }

  step(): string {
    const { name, nodes, states, outputs } = this.#program;
    for (const id of cone(this.#program, results(this.#program))) this.#write(id);
    const told = outputs.map((o) => statement(`out->${o.name} =`, this.#at(o.node)));
    const kept = states
      .map((s, i) => ({ s, i, e: this.#at(s.next) }))
      .filter(({ s, i }) => {
        const next = nodes[s.next] as LogicNode;
        return next.kind !== 'state' || next.state !== i;
      })
      .map(({ s, e }) => statement(`state->${s.name} =`, e));
    const body = [this.#lines, told, kept].filter((part) => part.length > 0).map((part) => part.join('\n'));
    const all = body.join('\n\n');
    const unused = ['in', 'state', 'out']
      .filter((p) => !all.includes(`${p}->`))
      .map((p) => `    (void)${p};`);
    return `${stepHead(name)}\n{\n${[...(unused.length > 0 ? [unused.join('\n')] : []), all].filter(Boolean).join('\n\n')}\n}`;
  }

  helpers(): CSupport[] {
    return [...this.#helpers.values()];
  }

  tables(): string[] {
    return [...this.#tables.values()].map(({ name, table: t }) => {
      const rows = t.x.map((x, i) => `    { ${x}, ${t.y[i]}, ${t.m[i] ?? 0} }`);
      return `static const bw_point_t ${name}[${t.x.length}] = {\n${rows.join(',\n')}\n};`;
    });
  }

  #write(id: NodeId): void {
    const node = this.#program.nodes[id] as LogicNode;
    const e = this.#expression(node, id);
    this.#written.set(id, this.#needsLocal(node, id, e) ? this.#local(node, id, e) : e);
  }

  #at(id: NodeId): Expression {
    return this.#written.get(id) as Expression;
  }

  #needsLocal(node: LogicNode, id: NodeId, e: Expression): boolean {
    if (node.kind === 'input') return false;
    if (node.kind === 'state') return this.#isOverwrittenBeforeUse(id, e);
    if (node.name !== '' || node.kind === 'crc') return true;
    if (node.kind === 'const') return false;
    const users = this.#users[id] as NodeId[];
    const uses = users.length + (this.#taken[id] as number);
    if (node.kind === 'not' && this.#isShort(node.a)) return false;
    if (uses > 1) return true;
    if (users.length === 0) return this.#isOverwrittenBeforeUse(id, e);
    return e.text.length > INLINE && !this.#continuesIn(users[0] as NodeId, id);
  }

  /** States are written one after another at the end: an expression taken there may read no state but its own. */
  #isOverwrittenBeforeUse(id: NodeId, e: Expression): boolean {
    return this.#program.states.some((s, i) => s.next === id && [...e.reads].some((read) => read !== i));
  }

  #isShort(id: NodeId): boolean {
    const { kind } = this.#program.nodes[id] as LogicNode;
    return kind === 'input' || kind === 'state' || this.#locals.has(id);
  }

  /** Whether a long expression goes on as part of a chain of the same kind, which breaks over lines. */
  #continuesIn(user: NodeId, id: NodeId): boolean {
    const [node, next] = [this.#program.nodes[id] as LogicNode, this.#program.nodes[user] as LogicNode];
    if (node.kind === 'and' || node.kind === 'or') return next.kind === node.kind;
    if (node.kind === 'max') return next.kind === 'min' && next.a === id;
    if (node.kind !== 'select' || next.kind !== 'select') return false;
    return next.no === id || (next.yes === id && this.#program.nodes[next.no]?.kind !== 'select');
  }

  #local(node: LogicNode, id: NodeId, e: Expression): Expression {
    const { name, note } = this.#nameFor(node, id);
    const head = `const ${cType(node)} ${name} =`;
    const text = statement(head, e);
    const remark = comment(note);
    if (remark && !text.includes('\n') && text.length + remark.length < 105)
      this.#lines.push(`${text} /* ${remark} */`);
    else this.#lines.push(...(remark ? [wrapped(`/* ${remark} */`)] : []), text);
    this.#locals.add(id);
    return primary(name);
  }

  #nameFor(node: LogicNode, id: NodeId): { name: string; note: string } {
    const { states, outputs } = this.#program;
    if (node.kind === 'state') return { name: this.#unique(`${node.name}_before`), note: '' };
    if (node.name !== '') return { name: this.#unique(node.name), note: node.note ?? '' };
    const output = outputs.find((o) => o.node === id);
    if (output) return { name: this.#unique(output.name), note: output.note };
    const state = states.find((s) => s.next === id);
    if (state) return { name: this.#unique(`${state.name}_next`), note: '' };
    if (node.kind === 'table') return { name: this.#unique(node.table.name), note: '' };
    return { name: this.#unique(this.#describe(node)), note: '' };
  }

  #describe(node: LogicNode): string {
    if (node.kind === 'min' && this.#raised(node) !== null) return 'bounded';
    if (node.kind === 'eq') {
      const [left, right] = [this.#program.nodes[node.a] as LogicNode, this.#number(node.b)];
      if (left.name !== '' && right !== null && right >= 0) return `${left.name}_is_${right}`;
    }
    return HINTS[node.kind] ?? 'value';
  }

  #unique(wanted: string): string {
    let name = wanted;
    for (let i = 2; this.#names.has(name); i++) name = `${wanted}_${i}`;
    this.#names.add(name);
    return name;
  }

  #expression(n: LogicNode, id: NodeId): Expression {
    const at = (operand: NodeId) => this.#at(operand);
    switch (n.kind) {
      case 'const':
        return n.type === 'bool' ? primary(constant(n, n.value)) : integer(n.value);
      case 'input':
        return primary(`in->${n.name}`);
      case 'state':
        return primary(`state->${n.name}`, new Set([n.state]));
      case 'add':
      case 'sub':
        return this.#sum(n.kind, n.a, n.b);
      case 'mulk':
        return n.k === -1 ? unary('-', at(n.a)) : arithmetic('*', at(n.a), integer(n.k));
      case 'divk':
        return arithmetic('/', at(n.a), integer(n.k));
      case 'wrap':
        return arithmetic('%', at(n.a), integer(2 ** n.bits));
      case 'xor':
        return exclusiveOr(at(n.a), at(n.b));
      case 'min': {
        const raised = this.#raised(n);
        if (raised) return this.#call(HELPERS.clamp, [at(raised.a), at(raised.b), at(n.b)]);
        return this.#call(HELPERS.min, [at(n.a), at(n.b)]);
      }
      case 'max': {
        const magnitude = this.#magnitudeOf(id);
        if (magnitude !== null) return this.#call(HELPERS.abs, [at(magnitude)]);
        return this.#call(HELPERS.max, [at(n.a), at(n.b)]);
      }
      case 'lt':
      case 'le':
        return this.#relation(n.kind, n.a, n.b);
      case 'eq':
        return equality('==', at(n.a), at(n.b));
      case 'and':
        return logical('&&', at(n.a), at(n.b));
      case 'or':
        return logical('||', at(n.a), at(n.b));
      case 'not':
        return this.#negation(n.a);
      case 'select':
        if (at(n.yes).rank === 'conditional' && at(n.no).rank !== 'conditional')
          return conditional(this.#negation(n.when), at(n.no), at(n.yes));
        return conditional(at(n.when), at(n.yes), at(n.no));
      case 'clockSub':
        return this.#call(HELPERS.elapsed, [at(n.a), at(n.b), integer(n.hi)]);
      case 'table':
        return this.#table(n.table, at(n.a));
      case 'crc':
        return this.#crc(n, id);
    }
  }

  #sum(kind: 'add' | 'sub', a: NodeId, b: NodeId): Expression {
    const [left, right] = [this.#number(a), this.#number(b)];
    if (kind === 'sub' && left === 0) return unary('-', this.#at(b));
    if (right !== null && right < 0)
      return arithmetic(kind === 'add' ? '-' : '+', this.#at(a), integer(-right));
    if (kind === 'add' && left !== null) {
      if (left < 0) return arithmetic('-', this.#at(b), integer(-left));
      return arithmetic('+', this.#at(b), this.#at(a));
    }
    return arithmetic(kind === 'add' ? '+' : '-', this.#at(a), this.#at(b));
  }

  /** The value of a constant that is written in place. */
  #number(id: NodeId): number | null {
    const node = this.#program.nodes[id] as LogicNode;
    return node.kind === 'const' && node.name === '' ? node.value : null;
  }

  /** A constant stands on the right, whichever side it has in the program. */
  #relation(kind: 'lt' | 'le', a: NodeId, b: NodeId): Expression {
    if (this.#program.nodes[a]?.kind === 'const' && this.#program.nodes[b]?.kind !== 'const')
      return relation(kind === 'lt' ? '>' : '>=', this.#at(b), this.#at(a));
    return relation(kind === 'lt' ? '<' : '<=', this.#at(a), this.#at(b));
  }

  /** not (a < b) is written a >= b. */
  #negation(id: NodeId): Expression {
    const n = this.#program.nodes[id] as LogicNode;
    if (!this.#locals.has(id)) {
      if (n.kind === 'lt') return this.#relation('le', n.b, n.a);
      if (n.kind === 'le') return this.#relation('lt', n.b, n.a);
      if (n.kind === 'eq') return equality('!=', this.#at(n.a), this.#at(n.b));
    }
    return unary('!', this.#at(id));
  }

  /** The inner part of min(max(x, lo), hi), where it is used for nothing else. */
  #raised(n: { a: NodeId }): { a: NodeId; b: NodeId } | null {
    const inner = this.#program.nodes[n.a] as LogicNode;
    if (inner.kind !== 'max' || this.#locals.has(n.a) || this.#magnitudeOf(n.a) !== null) return null;
    return inner;
  }

  /** The a of max(a, 0 − a), where the difference is used for nothing else. */
  #magnitudeOf(id: NodeId): NodeId | null {
    const n = this.#program.nodes[id] as LogicNode;
    if (n.kind !== 'max') return null;
    const minus = this.#program.nodes[n.b] as LogicNode;
    const alone = this.#users[n.b]?.length === 1 && this.#taken[n.b] === 0 && minus.name === '';
    return alone && minus.kind === 'sub' && minus.b === n.a && this.#number(minus.a) === 0 ? n.a : null;
  }

  #table(table: Table, at: Expression): Expression {
    const key = JSON.stringify(table);
    let known = this.#tables.get(key);
    if (!known) {
      const wanted = `${this.#program.name}_${table.name}`;
      const same = [...this.#tables.values()].filter((t) => t.table.name === table.name).length;
      known = { name: same === 0 ? wanted : `${wanted}__${same + 1}`, table };
      this.#tables.set(key, known);
    }
    return this.#call(HELPERS.table, [at, known.name, integer(table.x.length)]);
  }

  /** The bytes go into an array of their own, so the value is always a local. */
  #crc(n: LogicNode & { kind: 'crc' }, id: NodeId): Expression {
    const helper = crcHelper(n);
    const bytes = this.#unique(
      `${n.name || this.#program.outputs.find((o) => o.node === id)?.name || 'crc'}_bytes`,
    );
    const entries = n.bytes.map((b) => {
      const e = this.#at(b);
      return e.rank === 'primary' ? `(uint8_t)${e.text}` : `(uint8_t)(${e.text})`;
    });
    const head = `    const uint8_t ${bytes}[${n.bytes.length}] = {`;
    const line = `${head} ${entries.join(', ')} };`;
    this.#lines.push(line.length <= 100 ? line : `${head}\n        ${entries.join(',\n        ')}\n    };`);
    const start = primary(`0x${helper.start.toString(16).toUpperCase()}u`);
    const register = this.#call(helper, [bytes, integer(n.bytes.length), start]);
    return n.xorout === 0
      ? register
      : exclusiveOr(register, primary(`0x${n.xorout.toString(16).toUpperCase()}`));
  }

  #call(helper: CSupport, args: (Expression | string)[]): Expression {
    this.#helpers.set(helper.name, { name: helper.name, text: helper.text });
    return call(helper.name, args);
  }
}
