/** Drives a guard program step by step, with inputs by name, for tests that read like a log. */

import type { GuardFigures } from '../../src/guard/figures.ts';
import { causes, guardInputs, MODES } from '../../src/guard/inputs.ts';
import type { Program } from '../../src/logic/form.ts';
import { outputIndex } from '../../src/logic/graph.ts';
import { compile } from '../../src/logic/run.ts';

export interface Shown {
  order: number;
  active: boolean;
  mode: (typeof MODES)[number];
  cause: string;
}

/** Everything in order: fresh values, hands off, button up, 36 km/h. */
export const CALM: Record<string, number> = {
  steering_command: 0,
  request: 1,
  command_age: 0,
  speed: 1000,
  speed_age: 0,
  steering_measured: 0,
  steering_measured_age: 0,
  driver_torque: 0,
  torque_age: 0,
  arm_input: 0,
  stop_input: 0,
  clock_ms: 0,
};

export class Drive {
  readonly #compiled;
  readonly #state;
  readonly #outputs;
  clock: number;

  readonly #figures: GuardFigures;

  constructor(program: Program, figures: GuardFigures, clock = 0) {
    this.#figures = figures;
    this.#compiled = compile(program);
    this.#state = this.#compiled.initial();
    this.#outputs = new Float64Array(program.outputs.length);
    this.clock = clock;
  }

  /** `steps` steps with the same inputs, `spacing` milliseconds apart; what the last of them shows. */
  run(steps: number, inputs: Record<string, number> = {}, spacing = 10): Shown {
    for (let i = 0; i < steps; i++) {
      this.clock = (this.clock + spacing) % 2 ** 32;
      const row: Record<string, number> = { ...CALM, ...inputs, clock_ms: this.clock };
      const order = [...guardInputs(this.#figures).keys()];
      this.#compiled.step(
        this.#state,
        Float64Array.from(order, (name) => row[name] ?? 0),
        this.#outputs,
      );
    }
    return {
      order: this.value('steering_order'),
      active: this.value('steering_active') === 1,
      mode: MODES[this.value('mode')]!,
      cause: causes(this.#figures)[this.value('cause')]!.name,
    };
  }

  /** An output of the last step. */
  value(name: string): number {
    return this.#outputs[outputIndex(this.#compiled.program, name)]!;
  }

  /** Waits until ready, then presses; the guard is armed in the step that is shown. */
  arm(inputs: Record<string, number> = {}): Shown {
    this.run(400, inputs);
    return this.run(5, { ...inputs, arm_input: 1 });
  }
}
