/** `gateway.c`: the programs as functions, and the wiring between them. */
import type { Source, Stage } from '../bridge/gateway.ts';
import { supportText } from '../logic/c-support.ts';
import { emitC } from '../logic/emit-c.ts';
import type { Layout } from './layout.ts';

export function codeText(layout: Layout, head: string): string {
  const { gateway } = layout;
  const programs = gateway.stages.map((stage) => emitC(stage.program));
  const support = supportText(programs.flatMap((p) => p.support));
  const parts = [
    `${head}\n#include "gateway.h"\n\n#include <string.h>`,
    starts(layout),
    pinLevels(layout),
    rxLines(layout),
    support.trimEnd(),
    ...gateway.stages.flatMap((stage, k) => [programs[k]!.definitions.trimEnd(), runFunction(layout, stage)]),
    startFunction(layout),
    receiveFunction(layout),
    stepFunction(layout),
    frameFunction(layout),
  ];
  return `${parts.filter((part) => part !== '').join('\n\n')}\n`;
}

function starts(layout: Layout): string {
  if (layout.rx.length === 0) return '';
  const width = Math.max(...layout.rx.map((name) => name.length));
  const lines = layout.rx.map((name, i) => `#define AT_${name.padEnd(width)} ${layout.rxStart[i]}`);
  return `/* Where each received message's payload starts. */\n${lines.join('\n')}`;
}

function pinLevels(layout: Layout): string {
  const { pins } = layout.gateway;
  const rows = pins.map((pin, i) => `    [GATEWAY_PIN_${layout.pins[i]}] = ${pin.active === 'high'}`);
  const all = rows.length === 0 ? '    false' : rows.join(',\n');
  return `const bool gateway_pin_active_level[GATEWAY_PIN_ROOM] = {\n${all}\n};`;
}

function rxLines(layout: Layout): string {
  const rows = layout.gateway.rx.map((rx, i) => {
    const id = `0x${rx.id.toString(16).toUpperCase()}u`;
    return `    [GATEWAY_RX_${layout.rx[i]}] = { ${id}, AT_${layout.rx[i]}, ${busMacro(layout, rx.bus)}, ${rx.extended}, ${rx.length} }`;
  });
  if (rows.length === 0) return '';
  return `/* Frames that are heard. */
static const struct {
    uint32_t id;
    uint16_t at;
    uint8_t bus;
    bool extended;
    uint8_t length;
} rx_lines[GATEWAY_RX_COUNT] = {
${rows.join(',\n')}
};`;
}

/** Gathers a program's inputs and runs it. */
function runFunction(layout: Layout, stage: Stage): string {
  const { program, sources } = stage;
  const { name } = program;
  const clock = sources.some((s) => s.from === 'clock');
  const pins = sources.some((s) => s.from === 'pin');
  const lines = program.inputs.map((input, i) => {
    const source = sources[i] as Source;
    const note = source.from === 'fixed' ? ' /* held released: bench form */' : '';
    return `        .${input.name} = ${sourceText(layout, source, input.type)},${note}`;
  });
  const init = lines.length === 0 ? '{ 0 }' : `{\n${lines.join('\n')}\n    }`;
  const parameters = [
    'struct gateway *g',
    ...(clock ? ['uint32_t clock_ms'] : []),
    ...(pins ? ['const bool pins[GATEWAY_PIN_ROOM]'] : []),
  ];
  return `static void run_${name}(${parameters.join(', ')})
{
    const ${name}_in_t in = ${init};
    ${name}_step(&in, &g->${name}.state, &g->${name}.out);
}`;
}

function sourceText(layout: Layout, source: Source, type: 'int' | 'bool'): string {
  switch (source.from) {
    case 'rxByte':
      return `g->rx_payload[AT_${layout.rx[source.message]}${source.byte === 0 ? '' : ` + ${source.byte}`}]`;
    case 'rxFresh':
      return `g->rx_fresh[GATEWAY_RX_${layout.rx[source.message]}]`;
    case 'pin':
      return `pins[GATEWAY_PIN_${layout.pins[source.pin]}]`;
    case 'clock':
      return 'clock_ms';
    case 'stage':
      return `g->${layout.gateway.stages[source.stage]!.program.name}.out.${source.output}`;
    case 'fixed':
      return type === 'bool' ? `${source.value !== 0}` : `${source.value}`;
  }
}

function startFunction(layout: Layout): string {
  const lines = layout.gateway.stages.map(({ program: { name } }) => `    ${name}_init(&g->${name}.state);`);
  return `void gateway_start(struct gateway *g)
{
${['    (void)memset(g, 0, sizeof *g);', ...lines].join('\n')}
}`;
}

function receiveFunction(layout: Layout): string {
  if (layout.rx.length === 0) {
    return `void gateway_receive(struct gateway *g, const struct port_frame *frame)
{
    (void)g;
    (void)frame;
}`;
  }
  return `void gateway_receive(struct gateway *g, const struct port_frame *frame)
{
    for (int32_t line = 0; line < GATEWAY_RX_COUNT; line++) {
        if (frame->id != rx_lines[line].id || frame->bus != rx_lines[line].bus
            || frame->extended != rx_lines[line].extended || frame->length != rx_lines[line].length) {
            continue;
        }
        for (int32_t i = 0; i < rx_lines[line].length; i++) {
            g->rx_payload[rx_lines[line].at + i] = frame->payload[i];
        }
        g->rx_fresh[line] = true;
    }
}`;
}

function stepFunction(layout: Layout): string {
  const { stages } = layout.gateway;
  const uses = (from: Source['from']) => stages.some((s) => s.sources.some((source) => source.from === from));
  const unused = [...(uses('clock') ? [] : ['clock_ms']), ...(uses('pin') ? [] : ['pins'])];
  const calls = stages.map(({ program: { name }, sources }) => {
    const clock = sources.some((s) => s.from === 'clock') ? ', clock_ms' : '';
    const pins = sources.some((s) => s.from === 'pin') ? ', pins' : '';
    return `    run_${name}(g${clock}${pins});`;
  });
  return `void gateway_step(struct gateway *g, uint32_t clock_ms, const bool pins[GATEWAY_PIN_ROOM])
{
${[...unused.map((name) => `    (void)${name};`), ...calls].join('\n')}

    for (int32_t line = 0; line < GATEWAY_RX_ROOM; line++) {
        g->rx_fresh[line] = false;
    }
}`;
}

function frameFunction(layout: Layout): string {
  const { tx, stages } = layout.gateway;
  if (tx.length === 0) {
    return `bool gateway_frame(const struct gateway *g, int32_t message, struct port_frame *frame)
{
    (void)g;
    (void)message;
    (void)frame;
    return false;
}`;
  }
  const writers = tx.map((m) => {
    const { name } = stages[m.stage]!.program;
    const bytes = m.bytes.map((byte, k) => `    frame->payload[${k}] = (uint8_t)out->${byte};`);
    return `static bool frame_${m.name}(const ${name}_out_t *out, struct port_frame *frame)
{
    frame->id = 0x${m.id.toString(16).toUpperCase()}u;
    frame->bus = ${busMacro(layout, m.bus)};
    frame->extended = ${m.extended};
    frame->length = ${m.length};
${bytes.join('\n')}
    return out->${m.send};
}`;
  });
  const cases = tx.map(
    (m, i) => `    case GATEWAY_TX_${layout.tx[i]}:
        return frame_${m.name}(&g->${stages[m.stage]!.program.name}.out, frame);`,
  );
  return `${writers.join('\n\n')}

bool gateway_frame(const struct gateway *g, int32_t message, struct port_frame *frame)
{
    switch (message) {
${cases.join('\n')}
    default:
        return false;
    }
}`;
}

function busMacro(layout: Layout, number: number): string {
  const index = layout.gateway.buses.findIndex((bus) => bus.number === number);
  return index < 0 ? `${number}` : `GATEWAY_BUS_${layout.buses[index]}`;
}
