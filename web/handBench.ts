/** The guard tried by hand: its own program, stepped in the page with inputs that a person sets. */
import { type GuardFigures, guardFigures } from '../src/guard/figures.ts';
import { causes, guardInputs, MODES, type Mode, names } from '../src/guard/inputs.ts';
import type { GuardPlan } from '../src/guard/model.ts';
import { guardProgram } from '../src/guard/program/guard.ts';
import type { Program } from '../src/logic/form.ts';
import { initialState, interpret } from '../src/logic/interpret.ts';

/** One thing that a person sets, in physical units. */
export interface Hand {
  /** Name of the input, or of the age that a silence makes grow. */
  name: string;
  kind: 'value' | 'flag' | 'heard';
  words: string;
  unit: string;
  lo: number;
  hi: number;
}

/** What the guard shows after a step; orders in the unit of their channel. */
export interface ShownNow {
  mode: Mode;
  cause: string;
  orders: { channel: string; order: number; level: number; active: boolean }[];
}

/** One point of the record of the last seconds. */
export interface Past {
  timeS: number;
  orders: number[];
  commands: number[];
  mode: number;
}

const KEPT_S = 12;

export class HandBench {
  readonly figures: GuardFigures;
  readonly hands: Hand[];
  readonly past: Past[] = [];
  /** Measured values follow the orders, as an actuator that obeys would make them. */
  follows = true;
  shown: ShownNow;
  timeS = 0;
  readonly #program: Program;
  readonly #inputs: ReturnType<typeof guardInputs>;
  readonly #names: string[];
  readonly #set = new Map<string, number>();
  readonly #ages = new Map<string, number>();
  #state: Float64Array;
  #clock = 0;

  constructor(plan: GuardPlan, stepMs: number) {
    this.figures = guardFigures(plan, stepMs);
    this.#program = guardProgram(this.figures);
    this.#inputs = guardInputs(this.figures);
    this.#names = [...this.#inputs.keys()];
    this.#state = initialState(this.#program);
    const top = new Map(
      this.figures.channels.map((c) => [c.key, Math.max(1, 1.5 * c.levelMax * c.perCount)]),
    );
    this.hands = [...this.#inputs].flatMap(([name, input]): Hand[] => {
      if (name === 'clock_ms') return [];
      const words = input.meaning.replace(/^1 = /, '');
      if (name.endsWith('_age'))
        return [{ name, kind: 'heard', words: heardWords(name), unit: '', lo: 0, hi: 1 }];
      if (input.unit === '') return [{ name, kind: 'flag', words, unit: '', lo: 0, hi: 1 }];
      const channel = this.figures.channels.find((c) => name.startsWith(`${c.key}_`));
      const most = channel ? (top.get(channel.key) as number) : (RANGE[input.unit] ?? 10);
      const lo = input.lo < 0 && channel?.sides !== 'one' && name !== 'supply' ? -most : 0;
      return [{ name, kind: 'value', words, unit: input.unit, lo, hi: most }];
    });
    for (const hand of this.hands) this.#set.set(hand.name, hand.kind === 'heard' ? 1 : 0);
    this.#set.set('request', 1);
    this.#set.set('remote_link', 1);
    if (this.figures.supply)
      this.#set.set('supply', (this.figures.supply.low + this.figures.supply.high) / 2000);
    this.shown = this.#step();
  }

  get(name: string): number {
    return this.#set.get(name) ?? 0;
  }

  set(name: string, value: number): void {
    this.#set.set(name, value);
  }

  /** Runs the guard for so many of its steps. */
  run(steps: number): void {
    for (let i = 0; i < steps; i++) this.shown = this.#step();
  }

  #step(): ShownNow {
    const { stepMs, channels } = this.figures;
    this.#clock = (this.#clock + stepMs) % 2 ** 32;
    this.timeS += stepMs / 1000;
    const row = Float64Array.from(this.#names, (name) => {
      const unit = this.#inputs.get(name)!;
      if (name === 'clock_ms') return this.#clock;
      if (name.endsWith('_age')) {
        const age = this.get(name) === 1 ? 0 : Math.min(unit.hi, (this.#ages.get(name) ?? 0) + 1);
        this.#ages.set(name, age);
        return age;
      }
      return Math.max(unit.lo, Math.min(unit.hi, Math.round(this.get(name) / unit.perCount)));
    });
    const { next, values } = interpret(this.#program, this.#state, row);
    this.#state = next;
    const output = (name: string) =>
      values[this.#program.outputs.find((o) => o.name === name)!.node] as number;
    const named = (name: string) => {
      const at = this.#program.nodes.findIndex((n) => n.name === name);
      return at < 0 ? 0 : (values[at] as number);
    };
    const orders = channels.map((c) => ({
      channel: c.key,
      order: output(names(c.key).order) * c.perCount,
      level: named(`${c.key}_level`) * c.perCount,
      active: output(names(c.key).active) === 1,
    }));
    const mode = output('mode');
    if (this.follows)
      for (const c of channels)
        if (c.near !== null && mode !== 0 && mode !== 1)
          this.set(names(c.key).measured, output(names(c.key).order) * c.perCount);
    this.past.push({
      timeS: this.timeS,
      orders: orders.map((o) => o.order),
      commands: channels.map((c) => this.get(names(c.key).command)),
      mode,
    });
    while (this.past.length > 0 && (this.past[0] as Past).timeS < this.timeS - KEPT_S) this.past.shift();
    return {
      mode: MODES[mode] as Mode,
      cause: causes(this.figures)[output('cause')]!.name,
      orders,
    };
  }
}

/** Ends of the sliders by unit, where no table gives one. */
const RANGE: Record<string, number> = { 'm/s': 30, N·m: 10, V: 20, bar: 100, '%': 100, '°': 180, '°/s': 200 };

function heardWords(age: string): string {
  return `${age
    .replace(/_age$/, '')
    .replace(/^(act|pair)_/, '')
    .replace(/_/g, ' ')} is heard`;
}
