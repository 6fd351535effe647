/** Data groups (DG) and the channel groups (CG) in them: which records a stream of bytes consists of. */
import { type Blocks, u64 } from './blocks.ts';
import { type Channel, channelsOf } from './channels.ts';

export interface ChannelGroup {
  at: number;
  recordId: number;
  /** Records that the file says there are. */
  cycles: number;
  /** Whether its records are a length u32 and so many bytes: the values of a channel of variable length. */
  variable: boolean;
  /** Bytes of a record of fixed length: channels, then invalidation bits. */
  dataBytes: number;
  invalidBytes: number;
  /** Name of the source (SI); empty where there is none. */
  source: string;
  channels: Channel[];
}

export interface DataGroup {
  at: number;
  /** Bytes of the record id before each record; 0 where the group is sorted and holds one kind of record. */
  recordIdSize: number;
  groups: ChannelGroup[];
  /** Position of the data. */
  data: number;
}

export function dataGroups(blocks: Blocks, first: number): DataGroup[] {
  const all: DataGroup[] = [];
  for (const block of blocks.chain(first, 'DG', 'The HD block')) {
    const groups = channelGroups(blocks, block.links[1] as number, `The DG block at byte ${block.at}`);
    all.push({
      at: block.at,
      recordIdSize: blocks.view(block, 1).getUint8(0),
      groups,
      data: block.links[2] as number,
    });
  }
  return all;
}

function channelGroups(blocks: Blocks, first: number, from: string): ChannelGroup[] {
  const groups: ChannelGroup[] = [];
  for (const block of blocks.chain(first, 'CG', from)) {
    const view = blocks.view(block, 32);
    const bytes = new Uint8Array(view.buffer, view.byteOffset, view.byteLength);
    const where = `The CG block at byte ${block.at}`;
    const source = blocks.get(block.links[3] as number, ['SI'], where);
    groups.push({
      at: block.at,
      recordId: u64(bytes, 0),
      cycles: u64(bytes, 8),
      variable: (view.getUint16(16, true) & 1) !== 0,
      dataBytes: view.getUint32(24, true),
      invalidBytes: view.getUint32(28, true),
      source: source ? blocks.text(source.links[0] as number, `The SI block at byte ${source.at}`) : '',
      channels: channelsOf(blocks, block.links[1] as number, where),
    });
  }
  return groups;
}
