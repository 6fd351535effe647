/** One message as AUTOSAR elements: frame, PDU or multiplexed PDU with its parts, and what stands in the channel. */
import { fieldBits } from '../bits.ts';
import type { Message, Signal } from '../model.ts';
import { numberText } from '../tables/write.ts';
import type { Written } from '../xml.ts';
import { ownData } from './ownData.ts';
import { described, longName, type Packages, type Triggering } from './packages.ts';
import { protectionGroup } from './protectionElements.ts';
import { fieldSignal, signalElements } from './signalElements.ts';
import type { Exact } from './write.ts';

/** Where nobody has said yet what the field is: something that the reader takes, so that the rest of the message is read. */
const STAND_INS = {
  counter: { kind: 'counter' },
  check: { kind: 'check', algorithm: 'xor', covers: [0], width: 32 },
};

interface Mapped {
  name: string;
  field: { start: number; length: number; byteOrder: 'little' | 'big' };
  /** Path of the I-SIGNAL. */
  path: string;
}

/** Adds the elements of the message to the packages; returns what its bus has to say of it. */
export function messageElements(
  message: Message,
  bus: string,
  packages: Packages,
  exact: Exact | undefined,
): Triggering {
  const own = (key: string) => exact?.fields.get(key) ?? {};
  const fixed: Mapped[] = [];
  for (const kind of ['counter', 'check'] as const) {
    const field = message[kind];
    if (field === undefined) continue;
    const path = fieldSignal(
      `${message.name} ${kind}`,
      field,
      packages,
      exact === undefined ? STAND_INS[kind] : own(kind),
    );
    fixed.push({ name: `${message.name} ${kind}`, field, path });
  }
  const kept = message.signals.filter((signal) => signal.state !== 'rejected');
  const mapped = kept.map((signal, s) => ({
    signal,
    mapped: { name: signal.name, field: signal, path: signalElements(signal, packages, own(`signal ${s}`)) },
  }));
  const pdus = message.selector
    ? multiplexed(message, message.selector, fixed, mapped, packages)
    : [
        signalPdu(
          message,
          message.name,
          [...fixed, ...mapped.map((m) => m.mapped)],
          message.periodMs,
          packages,
          protectionGroup(
            message,
            [...fixed, ...mapped.map((m) => m.mapped)].map((m) => m.path),
            packages,
          ),
        ),
      ];
  const carried = pdus[0] as Pdu;
  const frame = packages.add('Frames', message.name, (name) => [
    'CAN-FRAME',
    [
      ['SHORT-NAME', name],
      longName(message.name, name),
      described(message.note),
      ownData(exact?.message ?? {}),
      ['FRAME-LENGTH', message.length],
      [
        'PDU-TO-FRAME-MAPPINGS',
        [
          [
            'PDU-TO-FRAME-MAPPING',
            [
              ['SHORT-NAME', 'Mapping'],
              ['PACKING-BYTE-ORDER', 'MOST-SIGNIFICANT-BYTE-LAST'],
              [`PDU-REF DEST="${carried.tag}"`, carried.path],
              ['START-POSITION', 0],
            ],
          ],
        ],
      ],
    ],
  ]);
  const scope = `channel ${bus}`;
  const channel = `/Clusters/${packages.clusterName(bus)}/Channel`;
  const signalTriggerings = [...fixed, ...mapped.map((m) => m.mapped)].map(({ name, path }) =>
    named('I-SIGNAL-TRIGGERING', packages.shortName(scope, `ST ${name}`), [
      ['I-SIGNAL-REF DEST="I-SIGNAL"', path],
    ]),
  );
  const pduTriggerings = pdus.map(({ tag, path, name }) => {
    const short = packages.shortName(scope, `PT ${name}`);
    return { short, element: named('PDU-TRIGGERING', short, [[`I-PDU-REF DEST="${tag}"`, path]]) };
  });
  const triggering = packages.shortName(scope, `FT ${message.name}`);
  const behaviour = message.length > 8 ? 'CAN-FD' : 'CAN-20';
  return {
    sender: message.sender,
    pdus: pduTriggerings.map((p) => p.element),
    signals: signalTriggerings,
    element: (ports) => [
      'CAN-FRAME-TRIGGERING',
      [
        ['SHORT-NAME', triggering],
        ports,
        ['FRAME-REF DEST="CAN-FRAME"', frame],
        [
          'PDU-TRIGGERINGS',
          [
            [
              'PDU-TRIGGERING-REF-CONDITIONAL',
              [['PDU-TRIGGERING-REF DEST="PDU-TRIGGERING"', `${channel}/${pduTriggerings[0]?.short}`]],
            ],
          ],
        ],
        ['CAN-ADDRESSING-MODE', message.extended ? 'EXTENDED' : 'STANDARD'],
        ['CAN-FRAME-RX-BEHAVIOR', behaviour],
        ['CAN-FRAME-TX-BEHAVIOR', behaviour],
        ['IDENTIFIER', message.id],
      ],
    ],
  };
}

interface Pdu {
  tag: 'I-SIGNAL-I-PDU' | 'MULTIPLEXED-I-PDU';
  path: string;
  name: string;
}

function signalPdu(
  message: Message,
  name: string,
  signals: readonly Mapped[],
  periodMs: number | null,
  packages: Packages,
  group: string | null = null,
): Pdu {
  const path = packages.add('Pdus', name, (short) => [
    'I-SIGNAL-I-PDU',
    [
      ['SHORT-NAME', short],
      ['LENGTH', message.length],
      periodMs === null ? null : timing(periodMs),
      [
        'I-SIGNAL-TO-PDU-MAPPINGS',
        [
          ...signals.map((signal) => mapping(signal, short, packages)),
          group === null
            ? null
            : named('I-SIGNAL-TO-I-PDU-MAPPING', packages.shortName(`mappings of ${short}`, 'group'), [
                ['I-SIGNAL-GROUP-REF DEST="I-SIGNAL-GROUP"', group],
                ['TRANSFER-PROPERTY', 'PENDING'],
              ]),
        ],
      ],
    ],
  ]);
  return { tag: 'I-SIGNAL-I-PDU', path, name };
}

function mapping({ name, field, path }: Mapped, pdu: string, packages: Packages): Written {
  return named('I-SIGNAL-TO-I-PDU-MAPPING', packages.shortName(`mappings of ${pdu}`, name), [
    ['I-SIGNAL-REF DEST="I-SIGNAL"', path],
    ['PACKING-BYTE-ORDER', orderText(field.byteOrder)],
    ['START-POSITION', field.start],
    ['TRANSFER-PROPERTY', 'PENDING'],
  ]);
}

function timing(periodMs: number): Written {
  const cyclic: Written = ['CYCLIC-TIMING', [['TIME-PERIOD', [['VALUE', numberText(periodMs / 1000)]]]]];
  return [
    'I-PDU-TIMING-SPECIFICATIONS',
    [['I-PDU-TIMING', [['TRANSMISSION-MODE-DECLARATION', [['TRANSMISSION-MODE-TRUE-TIMING', [cyclic]]]]]]],
  ];
}

/** The multiplexed PDU first, then its parts: one static, one alternative a value of the selector. */
function multiplexed(
  message: Message,
  selector: NonNullable<Message['selector']>,
  fixed: readonly Mapped[],
  signals: readonly { signal: Signal; mapped: Mapped }[],
  packages: Packages,
): Pdu[] {
  const still = [
    ...fixed,
    ...signals.filter((s) => s.signal.selectorValue === undefined).map((s) => s.mapped),
  ];
  const values = [...new Set(signals.flatMap(({ signal }) => signal.selectorValue ?? []))].sort(
    (a, b) => a - b,
  );
  const common = signalPdu(message, `${message.name} static`, still, message.periodMs, packages);
  const parts = values.map((value) => ({
    value,
    mapped: signals.filter((s) => s.signal.selectorValue === value).map((s) => s.mapped),
  }));
  const alternatives = parts.map(({ value, mapped }) => ({
    value,
    pdu: signalPdu(message, `${message.name} ${value}`, mapped, null, packages),
  }));
  const dynamic: Written[] =
    alternatives.length === 0
      ? []
      : [
          [
            'DYNAMIC-PART',
            [
              ['SEGMENT-POSITIONS', segments(parts.flatMap((p) => p.mapped))],
              [
                'DYNAMIC-PART-ALTERNATIVES',
                alternatives.map(
                  ({ value, pdu }, i): Written => [
                    'DYNAMIC-PART-ALTERNATIVE',
                    [
                      [`I-PDU-REF DEST="${pdu.tag}"`, pdu.path],
                      ['INITIAL-DYNAMIC-PART', i === 0 ? 'true' : 'false'],
                      ['SELECTOR-FIELD-CODE', value],
                    ],
                  ],
                ),
              ],
            ],
          ],
        ];
  const path = packages.add('Pdus', message.name, (short) => [
    'MULTIPLEXED-I-PDU',
    [
      ['SHORT-NAME', short],
      ['LENGTH', message.length],
      ['DYNAMIC-PARTS', dynamic],
      ['SELECTOR-FIELD-BYTE-ORDER', orderText(selector.byteOrder)],
      ['SELECTOR-FIELD-LENGTH', selector.length],
      ['SELECTOR-FIELD-START-POSITION', selector.start],
      [
        'STATIC-PARTS',
        [
          [
            'STATIC-PART',
            [
              ['SEGMENT-POSITIONS', segments(still)],
              [`I-PDU-REF DEST="${common.tag}"`, common.path],
            ],
          ],
        ],
      ],
    ],
  ]);
  return [{ tag: 'MULTIPLEXED-I-PDU', path, name: message.name }, common, ...alternatives.map((a) => a.pdu)];
}

/** Runs of bits that the fields take. */
function segments(signals: readonly Mapped[]): Written[] {
  const bits = [...new Set(signals.flatMap(({ field }) => fieldBits(field)))].sort((a, b) => a - b);
  const written: Written[] = [];
  for (let i = 0; i < bits.length; ) {
    let j = i;
    while (bits[j + 1] === (bits[j] as number) + 1) j++;
    written.push([
      'SEGMENT-POSITION',
      [
        ['SEGMENT-BYTE-ORDER', 'MOST-SIGNIFICANT-BYTE-LAST'],
        ['SEGMENT-LENGTH', j - i + 1],
        ['SEGMENT-POSITION', bits[i] as number],
      ],
    ]);
    i = j + 1;
  }
  return written;
}

function orderText(order: 'little' | 'big'): string {
  return order === 'big' ? 'MOST-SIGNIFICANT-BYTE-FIRST' : 'MOST-SIGNIFICANT-BYTE-LAST';
}

function named(tag: string, name: string, rest: Written[]): Written {
  return [tag, [['SHORT-NAME', name], ...rest]];
}
