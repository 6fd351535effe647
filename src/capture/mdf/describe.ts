/** The blocks that describe a recording in our own files: header, history, one data group per kind of frame, its channels. */
import type { Capture } from '../store.ts';
import { CHANNEL } from './channels.ts';
import { type Draft, fields, textDraft } from './metadata.ts';
import { PARENT, type WrittenChannel, type WrittenKind, writtenParts } from './writtenLayout.ts';

/** A kind of frame with the position of its data. */
export interface DescribedKind {
  kind: WrittenKind;
  data: number;
}

/** The HD block, which leads to all others. */
export function describe(capture: Capture, startNs: bigint, kinds: readonly DescribedKind[]): Draft {
  const shared = sharedDrafts(capture);
  let next: Draft | null = null;
  for (const described of [...kinds].reverse()) next = dataGroup(described, shared, next);
  const moment = [
    [8, startNs],
    [2, 0],
    [2, 0],
  ] as const;
  const history: Draft = {
    id: 'FH',
    links: [null, textDraft(HISTORY, 'MD')],
    // The time of writing is not known here: a recording is the same whenever it is written.
    data: fields(...moment, [1, 0], [1, 0], [2, 0]),
  };
  return {
    id: 'HD',
    links: [next, history, null, null, null, null],
    data: fields(...moment, [1, 0], [1, 0], [1, 0], [1, 0], ['f', 0], ['f', 0]),
  };
}

const HISTORY =
  '<FHcomment xmlns="http://www.asam.net/mdf/v4"><TX>Written by Bywright.</TX><tool_id>Bywright</tool_id><tool_vendor>Bywright</tool_vendor><tool_version>1</tool_version></FHcomment>';

interface Shared {
  source: Draft;
  seconds: Draft;
  busNames: Draft | null;
}

function sharedDrafts(capture: Capture): Shared {
  const names = [...(capture.busNames ?? [])].sort((a, b) => a[0] - b[0]);
  return {
    // Source type 2: a bus; bus type 2: CAN.
    source: {
      id: 'SI',
      links: [textDraft('CAN'), null, null],
      data: fields([1, 2], [1, 2], [1, 0], [1, 0], [4, 0]),
    },
    seconds: textDraft('s'),
    busNames:
      names.length === 0
        ? null
        : {
            // Conversion type 7, value to text: references to the texts, then to that of all other values (none).
            id: 'CC',
            links: [null, null, null, null, ...names.map(([, name]) => textDraft(name)), null],
            data: fields(
              [1, 7],
              [1, 0],
              [2, 0],
              [2, names.length + 1],
              [2, names.length],
              ['f', 0],
              ['f', 0],
              ...names.map(([bus]) => ['f', bus] as const),
            ),
          },
  };
}

function dataGroup({ kind, data }: DescribedKind, shared: Shared, next: Draft | null): Draft {
  const group: Draft = {
    id: 'CG',
    links: [null, channels(kind, shared), textDraft(kind.words), shared.source, null, null],
    // Flags 2 and 4: bus events, as they came. '.' separates the names of a frame and of its parts.
    data: fields([8, 0], [8, kind.frames], [2, 6], [2, '.'.charCodeAt(0)], [4, 0], [4, kind.size], [4, 0]),
  };
  return { id: 'DG', links: [next, group, data, null], data: fields([1, 0], [1, 0], [2, 0], [4, 0]) };
}

/** The time, the frame with its parts, and where it is needed the order. */
function channels(kind: WrittenKind, shared: Shared): Draft {
  const parent = PARENT[kind.kind];
  const end = kind.dataAt + kind.room;
  const order =
    kind.orderAt === null
      ? null
      : channel({ name: 'RecordedOrder', byte: kind.orderAt, bit: 0, bits: 32 }, { dataType: UNSIGNED });
  const frame = channel(
    { name: parent, byte: 8, bit: 0, bits: 8 * (end - 8) },
    { dataType: BYTES, flags: CHANNEL.busEvent, parts: parts(kind, parent, shared), next: order },
  );
  return channel(
    { name: 't', byte: 0, bit: 0, bits: 64 },
    { type: CHANNEL.master, sync: 1, dataType: FLOAT, unit: shared.seconds, next: frame },
  );
}

function parts(kind: WrittenKind, parent: string, shared: Shared): Draft {
  const all = writtenParts(kind).map((part) =>
    channel(
      { ...part, name: `${parent}.${part.name}` },
      {
        dataType: UNSIGNED,
        flags: CHANNEL.busEvent,
        conversion: part.name === 'BusChannel' ? shared.busNames : null,
      },
    ),
  );
  if (kind.room > 0) {
    // From memory: a channel of maximum length links the channel that holds the length.
    const length = all[writtenParts(kind).findIndex((part) => part.name === 'DataLength')] as Draft;
    all.push(
      channel(
        { name: `${parent}.DataBytes`, byte: kind.dataAt, bit: 0, bits: 8 * kind.room },
        { type: CHANNEL.maximumLength, dataType: BYTES, flags: CHANNEL.busEvent, data: length },
      ),
    );
  }
  for (const [k, draft] of all.entries()) draft.links[0] = all[k + 1] ?? null;
  return all[0] as Draft;
}

/** Data types of channels. */
const UNSIGNED = 0;
const FLOAT = 4;
const BYTES = 10;

interface ChannelOptions {
  dataType: number;
  type?: number;
  sync?: number;
  flags?: number;
  next?: Draft | null;
  parts?: Draft;
  conversion?: Draft | null;
  data?: Draft;
  unit?: Draft;
}

function channel({ name, byte, bit, bits }: WrittenChannel, options: ChannelOptions): Draft {
  const { dataType, type = CHANNEL.fixed, sync = 0, flags = 0 } = options;
  return {
    id: 'CN',
    links: [
      options.next ?? null,
      options.parts ?? null,
      textDraft(name),
      null,
      options.conversion ?? null,
      options.data ?? null,
      options.unit ?? null,
      null,
    ],
    data: fields(
      [1, type],
      [1, sync],
      [1, dataType],
      [1, bit],
      [4, byte],
      [4, bits],
      [4, flags],
      [4, 0],
      [1, 0],
      [1, 0],
      [2, 0],
      ['f', 0],
      ['f', 0],
      ['f', 0],
      ['f', 0],
      ['f', 0],
      ['f', 0],
    ),
  };
}
