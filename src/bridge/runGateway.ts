/** The run form of a whole gateway: every program compiled, inputs and outputs in typed arrays, no object per frame. */
import { FLAG } from '../can/frame.ts';
import { type CompiledProgram, compile } from '../logic/run.ts';
import type { Gateway } from './gateway.ts';
import { checkWiring } from './wiring.ts';

/** Frames that one step sends; valid until the next step. */
export interface SentFrames {
  /** How many of the entries below count. */
  count: number;
  /** Index in `gateway.tx`. */
  readonly message: Uint16Array;
  /** Where each payload starts in `payload`; its length is the message's. */
  readonly offset: Uint32Array;
  readonly payload: Uint8Array;
}

export class GatewayRun {
  readonly gateway: Gateway;
  readonly sent: SentFrames;
  readonly #stages: RunStage[];
  readonly #payload: Uint8Array;
  readonly #fresh: Uint8Array;
  readonly #rxStart: Uint32Array;
  readonly #lines: Map<number, number[]>;
  readonly #txOutputs: { stage: RunStage; send: number; bytes: Int32Array }[];

  constructor(gateway: Gateway) {
    checkWiring(gateway);
    this.gateway = gateway;
    this.#rxStart = starts(gateway.rx);
    this.#payload = new Uint8Array(total(gateway.rx));
    this.#fresh = new Uint8Array(gateway.rx.length);
    this.#lines = new Map();
    gateway.rx.forEach((rx, i) => {
      const key = lineKey(rx.bus, rx.id, rx.extended ? 1 : 0);
      this.#lines.set(key, [...(this.#lines.get(key) ?? []), i]);
    });
    const compiled = gateway.stages.map((stage) => compile(stage.program));
    this.#stages = gateway.stages.map((_, k) => new RunStage(gateway, k, compiled[k]!, this.#rxStart));
    for (const stage of this.#stages) stage.join(this.#stages);
    this.#txOutputs = gateway.tx.map((tx) => {
      const index = (name: string) =>
        gateway.stages[tx.stage]!.program.outputs.findIndex((o) => o.name === name);
      return {
        stage: this.#stages[tx.stage]!,
        send: index(tx.send),
        bytes: Int32Array.from(tx.bytes, index),
      };
    });
    this.sent = {
      count: 0,
      message: new Uint16Array(gateway.tx.length),
      offset: new Uint32Array(gateway.tx.length),
      payload: new Uint8Array(total(gateway.tx)),
    };
  }

  /** As after switching on. */
  reset(): void {
    this.#payload.fill(0);
    this.#fresh.fill(0);
    this.sent.count = 0;
    for (const stage of this.#stages) stage.reset();
  }

  /** A frame from a bus; its payload is `payload[from … from + length)`. Only stores: the next step computes. */
  receive(bus: number, id: number, flags: number, payload: Uint8Array, from: number, length: number): void {
    if (flags & (FLAG.remote | FLAG.error)) return;
    const lines = this.#lines.get(lineKey(bus, id, flags & FLAG.extended));
    if (lines === undefined) return;
    for (let k = 0; k < lines.length; k++) {
      const line = lines[k] as number;
      if (this.gateway.rx[line]!.length !== length) continue;
      const start = this.#rxStart[line] as number;
      for (let i = 0; i < length; i++) this.#payload[start + i] = payload[from + i] as number;
      this.#fresh[line] = 1;
    }
  }

  /** One step. `clockMs` is taken mod 2³²; `pins[i]` is 1 while pin i of the gateway is active. Fills `sent`. */
  step(clockMs: number, pins: ArrayLike<number>): void {
    const stages = this.#stages;
    for (let k = 0; k < stages.length; k++) stages[k]!.step(this.#payload, this.#fresh, pins, clockMs);
    const { sent } = this;
    sent.count = 0;
    let at = 0;
    for (let m = 0; m < this.#txOutputs.length; m++) {
      const { stage, send, bytes } = this.#txOutputs[m]!;
      if (stage.outputs[send] === 0) continue;
      sent.message[sent.count] = m;
      sent.offset[sent.count] = at;
      for (let i = 0; i < bytes.length; i++) sent.payload[at++] = stage.outputs[bytes[i] as number] as number;
      sent.count++;
    }
    this.#fresh.fill(0);
  }

  /** Outputs of stage k after the last step, in the order of its program's outputs. */
  outputs(k: number): Float64Array {
    return this.#stages[k]!.outputs;
  }

  /** State of stage k after the last step, in the order of its program's states. */
  state(k: number): Float64Array {
    return this.#stages[k]!.state;
  }
}

/** Kinds of sources in the hot loop. */
const BYTE = 0;
const FRESH = 1;
const PIN = 2;
const CLOCK = 3;
const STAGE = 4;
const FIXED = 5;

class RunStage {
  readonly outputs: Float64Array;
  readonly state: Float64Array;
  readonly #initial: Float64Array;
  readonly #compiled: CompiledProgram;
  readonly #inputs: Float64Array;
  readonly #kind: Uint8Array;
  readonly #a: Int32Array;
  readonly #b: Int32Array;
  #before: Float64Array[] = [];

  constructor(gateway: Gateway, index: number, compiled: CompiledProgram, rxStart: Uint32Array) {
    const { program, sources } = gateway.stages[index]!;
    this.#compiled = compiled;
    this.#initial = compiled.initial();
    this.state = compiled.initial();
    this.outputs = new Float64Array(program.outputs.length);
    this.#inputs = new Float64Array(sources.length);
    this.#kind = new Uint8Array(sources.length);
    this.#a = new Int32Array(sources.length);
    this.#b = new Int32Array(sources.length);
    sources.forEach((source, i) => {
      const [kind, a, b] = (() => {
        switch (source.from) {
          case 'rxByte':
            return [BYTE, (rxStart[source.message] as number) + source.byte, 0];
          case 'rxFresh':
            return [FRESH, source.message, 0];
          case 'pin':
            return [PIN, source.pin, 0];
          case 'clock':
            return [CLOCK, 0, 0];
          case 'fixed':
            return [FIXED, source.value, 0];
          case 'stage': {
            const outputs = gateway.stages[source.stage]!.program.outputs;
            return [STAGE, source.stage, outputs.findIndex((o) => o.name === source.output)];
          }
        }
      })() as [number, number, number];
      this.#kind[i] = kind;
      this.#a[i] = a;
      this.#b[i] = b;
    });
  }

  join(stages: RunStage[]): void {
    this.#before = stages.map((stage) => stage.outputs);
  }

  reset(): void {
    this.state.set(this.#initial);
    this.outputs.fill(0);
  }

  step(payload: Uint8Array, fresh: Uint8Array, pins: ArrayLike<number>, clockMs: number): void {
    const inputs = this.#inputs;
    for (let i = 0; i < inputs.length; i++) {
      const a = this.#a[i] as number;
      switch (this.#kind[i]) {
        case BYTE:
          inputs[i] = payload[a] as number;
          break;
        case FRESH:
          inputs[i] = fresh[a] as number;
          break;
        case PIN:
          inputs[i] = pins[a] as number;
          break;
        case CLOCK:
          inputs[i] = clockMs >>> 0;
          break;
        case STAGE:
          inputs[i] = this.#before[a]![this.#b[i] as number] as number;
          break;
        default:
          inputs[i] = a;
      }
    }
    this.#compiled.step(this.state, inputs, this.outputs);
  }
}

function starts(messages: readonly { length: number }[]): Uint32Array {
  let at = 0;
  return Uint32Array.from(messages, (m) => {
    at += m.length;
    return at - m.length;
  });
}

function total(messages: readonly { length: number }[]): number {
  return messages.reduce((sum, m) => sum + m.length, 0);
}

/** Bus, identifier and its form in one number below 2⁵³. */
function lineKey(bus: number, id: number, extended: number): number {
  return (bus * 2 + extended) * 0x2000_0000 + (id & 0x1fff_ffff);
}
