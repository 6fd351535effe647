/** `gateway.h`: lists of buses, pins and messages, the programs' data, and what the loop calls. */
import { formatId } from '../can/frame.ts';
import { emitC } from '../logic/emit-c.ts';
import { commentText, framesPerStep, type Layout, room } from './layout.ts';

export function headerText(layout: Layout, head: string): string {
  const { gateway } = layout;
  const programs = gateway.stages.map((stage) => stage.program);
  return `${head}
#ifndef GATEWAY_H
#define GATEWAY_H

#include <stdbool.h>
#include <stdint.h>

#include "port.h"

/* gateway_step is to be called this often. */
#define GATEWAY_STEP_MS ${gateway.stepMs}u

/* Twice what all buses together can bring in one step: more frames than this are never taken in one. */
#define GATEWAY_FRAMES_PER_STEP ${2 * framesPerStep(gateway)}

${list(
  'Buses.',
  gateway.buses.map((bus, i) => [
    `GATEWAY_BUS_${layout.buses[i]}`,
    `${bus.number}`,
    `${bus.bitRateBps} bit/s${bus.dataBitRateBps ? `, CAN FD data ${bus.dataBitRateBps} bit/s` : ''}`,
  ]),
)}

${list(
  'Digital inputs.',
  gateway.pins.map((pin, i) => [
    `GATEWAY_PIN_${layout.pins[i]}`,
    `${i}`,
    `${commentText(pin.original)}, active ${pin.active}`,
  ]),
)}
#define GATEWAY_PIN_COUNT ${gateway.pins.length}
#define GATEWAY_PIN_ROOM ${room(gateway.pins.length)}

${list(
  'Messages received.',
  gateway.rx.map((rx, i) => [`GATEWAY_RX_${layout.rx[i]}`, `${i}`, messageText(layout, rx)]),
)}
#define GATEWAY_RX_COUNT ${gateway.rx.length}
#define GATEWAY_RX_ROOM ${room(gateway.rx.length)}
#define GATEWAY_RX_BYTES ${room(layout.rxBytes)}

${list(
  'Messages sent.',
  gateway.tx.map((tx, i) => [`GATEWAY_TX_${layout.tx[i]}`, `${i}`, messageText(layout, tx)]),
)}
#define GATEWAY_TX_COUNT ${gateway.tx.length}

${programs.map((program) => emitC(program).declarations).join('\n')}
/* Everything that the gateway remembers. */
struct gateway {
    /* Payloads of received messages, end to end, and which of them came since the last step. */
    uint8_t rx_payload[GATEWAY_RX_BYTES];
    bool rx_fresh[GATEWAY_RX_ROOM];

    /* What each program keeps for its next step, and what it computed in the last one. */
${members(layout)}
};

/* Level at which each pin is active, true = high. */
extern const bool gateway_pin_active_level[GATEWAY_PIN_ROOM];

/* The state after switching on. */
void gateway_start(struct gateway *g);

/* Stores a received frame until the next step; a frame that no program reads is ignored. Computes nothing. */
void gateway_receive(struct gateway *g, const struct port_frame *frame);

/* One step: \`clock_ms\` wraps at 2^32, \`pins\` are true while active. */
void gateway_step(struct gateway *g, uint32_t clock_ms, const bool pins[GATEWAY_PIN_ROOM]);

/* Fills \`frame\` with message 0 to GATEWAY_TX_COUNT - 1 if the last step wants it sent; false if it does not. */
bool gateway_frame(const struct gateway *g, int32_t message, struct port_frame *frame);

#endif
`;
}

function messageText(
  layout: Layout,
  m: { bus: number; id: number; extended: boolean; length: number },
): string {
  const bus = layout.gateway.buses.find((b) => b.number === m.bus)?.name ?? `bus ${m.bus}`;
  return `${bus}, identifier ${formatId(m.id, m.extended)}, ${m.length} bytes`;
}

function members(layout: Layout): string {
  const { stages } = layout.gateway;
  if (stages.length === 0) return '    uint8_t unused;';
  return stages
    .map(
      ({ program: { name } }) => `    struct {
        ${name}_state_t state;
        ${name}_out_t out;
    } ${name};`,
    )
    .join('\n');
}

/** Macros in aligned columns, each with its comment. */
function list(what: string, rows: [name: string, value: string, note: string][]): string {
  if (rows.length === 0) return `/* ${what.replace(/\.$/, '')}: none. */`;
  const width = Math.max(...rows.map(([name]) => name.length));
  const digits = Math.max(...rows.map(([, value]) => value.length));
  const lines = rows.map(
    ([name, value, note]) => `#define ${name.padEnd(width)} ${value.padStart(digits)} /* ${note} */`,
  );
  return `/* ${what} */\n${lines.join('\n')}`;
}
