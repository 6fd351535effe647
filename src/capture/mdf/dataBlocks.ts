/** The data that a DG or a channel links: one DT or SD block, one packed in DZ, or lists of them (HL, DL), read in order. */
import { constants, inflateSync } from 'node:zlib';
import type { Block, Blocks } from './blocks.ts';
import { BLOCK_HEADER, u64 } from './blocks.ts';
import type { Pages } from './pages.ts';
import { untransposed } from './transposition.ts';
import type { Trouble } from './trouble.ts';

/** A packed block unpacks to 4 MiB in a well-made file; one that claims far more is damage. */
const LONGEST_UNPACKED = 1 << 26;

/** Bytes of one stream of records or of values, described but not read yet. */
export interface DataStream {
  /** DT, SD and DZ blocks in order. */
  blocks: Block[];
  /** Whether any block is packed. */
  packed: boolean;
}

/** Whether the file says of itself that its end was never written: the last DT block may then hold more than it claims. */
export type Ending = 'finalised' | 'unfinalised';

/** Follows `link`, which `from` holds, to its blocks. Damage ends the list there. */
export function dataStream(blocks: Blocks, link: number, from: string): DataStream {
  const stream: DataStream = { blocks: [], packed: false };
  let first = blocks.get(link, ['DT', 'SD', 'DV', 'DZ', 'DL', 'HL'], from);
  if (first?.id === 'HL') {
    first = blocks.get(first.links[0] as number, ['DL'], `The HL block at byte ${first.at}`);
  }
  if (first === null) return stream;
  if (first.id !== 'DL') {
    if (blocks.claim(first)) stream.blocks.push(first);
  } else list(blocks, first.at, from, stream);
  stream.packed = stream.blocks.some((block) => block.id === 'DZ');
  return stream;
}

/** The bytes of the stream piece by piece. Ends, with a word of trouble, where the rest cannot be had. */
export function* pieces(
  stream: DataStream,
  pages: Pages,
  blocks: Blocks,
  trouble: Trouble,
  ending: Ending,
): Generator<Uint8Array, void, undefined> {
  for (const [k, block] of stream.blocks.entries()) {
    if (block.id === 'DZ') {
      const { bytes, whole } = unpacked(block, pages, trouble);
      if (bytes.length > 0) yield bytes;
      if (!whole) return;
      continue;
    }
    const isLast = k === stream.blocks.length - 1;
    const open = ending === 'unfinalised' && isLast && block.length <= BLOCK_HEADER;
    const end = open ? blocks.nextKnown(block.at) : block.end;
    for (let at = block.data; at < end; ) {
      const run = pages.run(at, end - at);
      yield run;
      at += run.length;
    }
    if (!open && block.at + block.length > pages.length) {
      trouble.say(
        `The ${block.id} block at byte ${block.at} claims ${block.length} bytes, of which the file has ${pages.length - block.at}`,
      );
      return;
    }
  }
}

function list(blocks: Blocks, first: number, from: string, stream: DataStream): void {
  for (const dl of blocks.chain(first, 'DL', from)) {
    const count = Math.min(blocks.view(dl, 8).getUint32(4, true), dl.links.length - 1);
    for (let k = 1; k <= count; k++) {
      const block = blocks.get(
        dl.links[k] as number,
        ['DT', 'SD', 'DV', 'DZ'],
        `The DL block at byte ${dl.at}`,
      );
      if (block === null || !blocks.claim(block)) return;
      stream.blocks.push(block);
    }
  }
}

/** What the DZ block holds: original type 2, zip u8, reserved, parameter u32, original length u64, packed length u64, data. */
function unpacked(block: Block, pages: Pages, trouble: Trouble): { bytes: Uint8Array; whole: boolean } {
  const none = { bytes: new Uint8Array(0), whole: false };
  const head = pages.bytes(block.data, 24);
  const where = `The DZ block at byte ${block.at}`;
  const zip = head[2] as number;
  const row = new DataView(head.buffer, head.byteOffset).getUint32(4, true);
  const size = u64(head, 8);
  const packedSize = u64(head, 16);
  const start = block.data + 24;
  if (zip > 1 || (zip === 1 && row === 0)) {
    trouble.say(`${where} is packed in way ${zip} with parameter ${row}; right would be 0 or 1, deflate`);
    return none;
  }
  if (size > LONGEST_UNPACKED || packedSize > block.at + block.length - start) {
    trouble.say(`${where} claims ${packedSize} bytes that unpack to ${size}, which no such block has`);
    return none;
  }
  const there = Math.min(packedSize, block.end - start);
  const cut = there < packedSize;
  let bytes: Uint8Array;
  try {
    bytes = inflateSync(pages.bytes(start, there), {
      maxOutputLength: Math.max(1, size),
      ...(cut ? { finishFlush: constants.Z_SYNC_FLUSH } : {}),
    });
  } catch {
    trouble.say(`${where} does not unpack: its data is damaged`);
    return none;
  }
  if (cut || bytes.length !== size) {
    trouble.say(
      cut
        ? `${where} is cut short by the end of the file`
        : `${where} unpacks to ${bytes.length} bytes and claims ${size}`,
    );
    // Columns that are not whole give no row.
    return { bytes: zip === 1 ? none.bytes : bytes, whole: false };
  }
  return { bytes: zip === 1 && size > 0 ? untransposed(bytes, row) : bytes, whole: true };
}
