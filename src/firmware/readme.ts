/** `README.md` of a firmware project: what it is, what it needs, what was shown about it and what was not. */
import type { Gateway, RxMessage, TxMessage } from '../bridge/gateway.ts';
import { formatId } from '../can/frame.ts';
import type { Check, Counter } from '../dictionary/model.ts';
import { programHash } from '../logic/hash.ts';
import { formSentence, type ProjectForm } from './head.ts';
import { framesPerStep, type Layout } from './layout.ts';
import { armingRefusals, type Provenance, STATUS_WORDS } from './provenance.ts';

export function readmeText(
  layout: Layout,
  form: ProjectForm,
  provenance: Provenance,
  fileHashes: [path: string, hash: string][],
): string {
  const { gateway } = layout;
  return `${[
    `# Gateway of "${provenance.title}"`,
    formSentence(gateway, form),
    cautions(gateway, form, provenance),
    buses(layout),
    messages(gateway),
    pins(layout),
    port(gateway),
    test(),
    shown(gateway, provenance),
    origin(gateway, provenance, fileHashes),
    names(gateway),
  ].join('\n\n')}\n`;
}

function cautions(gateway: Gateway, form: ProjectForm, provenance: Provenance): string {
  const refusals = armingRefusals(gateway, provenance);
  const why =
    form === 'armable' || gateway.actuators.length === 0
      ? ''
      : refusals.length === 0
        ? '\n- Every obligation is proved, so an armable project could be written; this one is the bench form all the same.'
        : `\n- No armable project can be written as long as this stands:\n${refusals.map((r) => `  - ${r}`).join('\n')}`;
  return `## Cautions

- Nothing here makes a car safe or lawful. Local law, type approval and the judgement of a licensed engineer come first.
- Proof and tests speak of the programs in this folder. They say nothing of the board, its power supply, the CAN
  transceivers, the wiring, the actuator, the compiler, or of a port written for the board.
- First bench, then a stand with the wheels off the ground, then a closed course. A stop switch that removes the
  actuator's power must work without this gateway.
- A board without a hardware watchdog must not be armed: if the steps stop, nothing in this code can act any more.${why}`;
}

function buses(layout: Layout): string {
  const rows = layout.gateway.buses.map((bus, i) => [
    bus.name,
    `GATEWAY_BUS_${layout.buses[i]}`,
    String(bus.number),
    `${bus.bitRateBps} bit/s`,
    bus.dataBitRateBps ? `${bus.dataBitRateBps} bit/s` : 'none',
  ]);
  return `## Buses\n\n${table(['bus', 'in C', 'number', 'bit rate', 'CAN FD data rate'], rows)}`;
}

function pins(layout: Layout): string {
  const { pins } = layout.gateway;
  if (pins.length === 0) return '## Pins\n\nThis gateway reads no pin.';
  const rows = pins.map((pin, i) => [
    pin.original,
    `GATEWAY_PIN_${layout.pins[i]}`,
    String(i),
    pin.active === 'high' ? 'high level' : 'low level, so that a broken wire counts as active',
  ]);
  return `## Pins\n\nDigital inputs only. Active means pressed, or stop.\n\n${table(['pin', 'in C', 'number', 'active at'], rows)}`;
}

function messages(gateway: Gateway): string {
  const bus = (number: number) => gateway.buses.find((b) => b.number === number)?.name ?? String(number);
  const row = (m: RxMessage | TxMessage) => [
    bus(m.bus),
    formatId(m.id, m.extended),
    m.name,
    `${m.length} bytes`,
  ];
  const received = gateway.rx.map(row);
  const sent = gateway.tx.map((tx) => [...row(tx), protection(tx.counter, tx.check)]);
  const head = ['bus', 'identifier', 'name in C', 'length'];
  return `## Messages

Received:

${received.length === 0 ? 'none' : table(head, received)}

Sent:

${sent.length === 0 ? 'none' : table([...head, 'counter and check field'], sent)}`;
}

function protection(counter: Counter | null, check: Check | null): string {
  const parts = [
    counter && `counter of ${counter.length} bits`,
    check && `${check.algorithm} of ${check.width} bits`,
  ].filter(Boolean);
  return parts.length === 0 ? 'none' : parts.join(', ');
}

function port(gateway: Gateway): string {
  return `## How to port it to a board

Write the seven functions of \`port.h\` in one file for the board, and build it with \`make board PORT=yours.c CC=…\`. The
core needs no operating system, no heap and no floating point; its whole memory is one \`struct gateway\`.

- \`port_start\`: clock, pins, one CAN controller per bus at the bit rates above, the hardware watchdog.
- \`port_clock_ms\` and \`port_wait_until\`: a millisecond timer. The guard trips when steps come unevenly.
- \`port_receive\` and \`port_send\`: queues between interrupts and the loop. In one step all buses together can bring at
  most ${framesPerStep(gateway)} frames.
- \`port_pin\`: the level; what is active is known to the core. Fit a resistor that pulls an open input to its cautious side.
- \`port_alive\`: feeds the watchdog. Let it reset the processor after a few steps without a call, and let a reset leave
  every output of the board released.`;
}

function test(): string {
  return `## How to test it on a computer

\`make\` builds \`gateway_host\`, the same code with a port that reads frames and steps from a file; \`port_host.c\` tells the
form. It prints a hash for every step, to be compared with the tool's own run of the same frames.`;
}

function shown(gateway: Gateway, provenance: Provenance): string {
  const lines = gateway.stages.flatMap(({ role, program }) => {
    const proof = provenance.proofs.find((p) => p.program === program.name);
    if (!proof)
      return role === 'guard' ? [`- ${program.name}: no proof was given. Nothing is shown about it.`] : [];
    if (proof.programHash !== programHash(program))
      return [
        `- ${program.name}: the proof that was given is of another version. Nothing is shown about this one.`,
      ];
    return proof.obligations.map(
      (o) => `- ${program.name}, ${o.name}: ${STATUS_WORDS[o.status].toUpperCase()}. ${o.sentence}`,
    );
  });
  return `## What was shown, and what was not

${lines.length === 0 ? 'There is no guard here, and nothing was proved.' : lines.join('\n')}

Not shown by proof: that routes translate what was meant, that the dictionary's scales are right, that the C computes what
the proved programs compute (that is tested, step by step and bit by bit), and anything named under Cautions.`;
}

function origin(gateway: Gateway, provenance: Provenance, fileHashes: [string, string][]): string {
  const programs = gateway.stages.map(({ role, program }) => [role, program.name, programHash(program)]);
  return `## Where it comes from

- written by ${provenance.tool}
- build "${provenance.title}", SHA-256 of its files ${provenance.buildHash}

Programs, SHA-256 of their logic form:

${programs.length === 0 ? 'none' : table(['kind', 'program', 'hash'], programs)}

Files, SHA-256:

${table(['file', 'hash'], fileHashes)}`;
}

function names(gateway: Gateway): string {
  if (gateway.names.length === 0) return '## Names\n\nNo name of the build appears in this code.';
  const rows = gateway.names.map((n) => [n.kind, n.original, n.name]);
  return `## Names

Names of the build, and the words that stand for them in C: letters without accents, one underscore for anything else, a
trailing underscore for words of the language, a number where two would be the same.

${table(['kind', 'in the build', 'in C'], rows)}`;
}

function table(head: string[], rows: string[][]): string {
  const cell = (text: string) => text.replace(/\s+/g, ' ').replaceAll('|', '\\|');
  const line = (cells: string[]) => `| ${cells.map(cell).join(' | ')} |`;
  return [line(head), line(head.map(() => '---')), ...rows.map(line)].join('\n');
}
