/**
 * Message definitions of an AUTOSAR system description (AUTOSAR 4.x, ARXML): clusters, frames, PDUs, signals, conversions,
 * senders, end-to-end protection. What a dictionary cannot hold is listed. Private data of others is passed over.
 */
import { formatId } from '../../can/frame.ts';
import { camelKeys } from '../case.ts';
import type { Dictionary, Message } from '../model.ts';
import { dictionaryProblems } from '../problems.ts';
import { messageSchema } from '../schema.ts';
import { child, type Element, everyElement, list, nameOf, readXml, textAt } from '../xml.ts';
import { numberOf } from './conversion.ts';
import { LeftOut, type Located } from './leftOut.ts';
import { exactOf, withExact } from './ownData.ts';
import { type Content, pduContent } from './pdu.ts';
import { References } from './references.ts';

export interface AutosarProblem {
  /** 1-based line of the file; 0 where the whole file is meant. */
  line: number;
  /** Path of the AUTOSAR element, "/Package/Name", or ''. */
  element: string;
  found: string;
  expected: string;
}

export interface AutosarRead {
  /** One per CAN cluster, in the order of the file. */
  dictionaries: Dictionary[];
  /** What cannot be held, one sentence a kind, with how often and where. */
  leftOut: string[];
  problems: AutosarProblem[];
}

/** Never throws. */
export function readAutosar(text: string): AutosarRead {
  const { root, problems: broken } = readXml(text.startsWith('\ufeff') ? text.slice(1) : text);
  const problems: AutosarProblem[] = broken.map(({ line, column, found, expected }) => ({
    line,
    element: '',
    found: `${found} (column ${column})`,
    expected,
  }));
  if (root === null) return { dictionaries: [], leftOut: [], problems };
  if (root.name !== 'AUTOSAR') {
    problems.push({
      line: root.line,
      element: '',
      found: `a document <${root.name}>`,
      expected: 'an AUTOSAR 4 system description: <AUTOSAR>',
    });
    return { dictionaries: [], leftOut: [], problems };
  }
  const references = new References(root, problems);
  const left = new LeftOut();
  const clusters = [...everyElement(root)].filter((e) => e.name === 'CAN-CLUSTER');
  for (const e of everyElement(root))
    if (/^(LIN|FLEXRAY|ETHERNET|TTCAN)-CLUSTER$/.test(e.name))
      left.add(`${e.name}, a bus of another kind`, e.path);
  if (clusters.length === 0)
    problems.push({
      line: root.line,
      element: '',
      found: 'no CAN-CLUSTER',
      expected: 'a system description with at least one CAN bus',
    });
  const dictionaries = clusters.map((cluster) => clusterDictionary(cluster, references, left, problems));
  return { dictionaries, leftOut: left.sentences(), problems };
}

function clusterDictionary(
  cluster: Element,
  references: References,
  left: LeftOut,
  problems: AutosarProblem[],
): Dictionary {
  const found: (Located & { entry: Record<string, unknown> })[] = [];
  for (const conditional of list(cluster, 'CAN-CLUSTER-VARIANTS', 'CAN-CLUSTER-CONDITIONAL'))
    for (const channel of list(conditional, 'PHYSICAL-CHANNELS', 'CAN-PHYSICAL-CHANNEL'))
      for (const triggering of list(channel, 'FRAME-TRIGGERINGS', 'CAN-FRAME-TRIGGERING')) {
        const entry = frameEntry(triggering, references, left, problems);
        if (entry !== null) found.push({ entry, line: triggering.line, path: triggering.path });
      }
  const names = new Set<string>();
  const messages: Message[] = [];
  const places = new Map<Message, Located>();
  for (const { entry, line, path } of found) {
    const wanted = String(entry['name']);
    for (let n = 2; names.has(entry['name'] as string); n++) entry['name'] = `${wanted} ${n}`;
    names.add(entry['name'] as string);
    const result = messageSchema.safeParse(entry);
    if (!result.success) {
      const issue = result.error.issues[0];
      problems.push({
        line,
        element: path,
        found: `a message that no dictionary can hold (${issue?.path.join('.') ?? ''})`,
        expected: issue?.message ?? 'other values',
      });
      continue;
    }
    const message = camelKeys(result.data);
    messages.push(message);
    places.set(message, { line, path });
  }
  const bus = exactOf(cluster)['bus'];
  const name = typeof bus === 'string' ? bus : nameOf(cluster);
  return consistent({ form: 'dictionary/1', bus: name || 'bus', messages }, places, problems);
}

/** Snake-case entry of one message; null where it cannot be one, which is told. */
function frameEntry(
  triggering: Element,
  references: References,
  left: LeftOut,
  problems: AutosarProblem[],
): Record<string, unknown> | null {
  const wrong = (found: string, expected: string): null => {
    problems.push({ line: triggering.line, element: triggering.path, found, expected });
    return null;
  };
  const id = numberOf(textAt(triggering, 'IDENTIFIER'));
  if (id === null || !Number.isInteger(id) || id < 0 || id > 0x1fff_ffff)
    return wrong(`IDENTIFIER "${textAt(triggering, 'IDENTIFIER')}"`, 'a whole number up to 536870911');
  const frame = references.follow(triggering, 'FRAME-REF');
  if (frame === undefined) return null;
  const length = numberOf(textAt(frame, 'FRAME-LENGTH'));
  if (length === null)
    return wrong(`FRAME-LENGTH "${textAt(frame, 'FRAME-LENGTH')}" of ${frame.path}`, '0 to 64 bytes');
  const mode = textAt(triggering, 'CAN-ADDRESSING-MODE');
  const extended = mode === 'EXTENDED' || (mode !== 'STANDARD' && id > 0x7ff);
  const content: Content = { signals: [], periodsMs: [] };
  for (const mapping of list(frame, 'PDU-TO-FRAME-MAPPINGS', 'PDU-TO-FRAME-MAPPING')) {
    const pdu = references.follow(mapping, 'PDU-REF');
    if (pdu === undefined) continue;
    const start = numberOf(textAt(mapping, 'START-POSITION')) ?? 0;
    // Little-endian PDUs start at 0, 8, 16, …, big-endian ones at 7, 15, 23, …: the byte is what counts.
    pduContent(pdu, { base: 8 * Math.floor(start / 8), content, references, left });
    if (child(mapping, 'UPDATE-INDICATION-BIT-POSITION')) left.add('update bit of a whole PDU', pdu.path);
  }
  const periods = [...new Set(content.periodsMs)].sort((a, b) => a - b);
  if (periods.length > 1) left.add(`periods other than the shortest (${periods.join(', ')} ms)`, frame.path);
  const senders = sendersOf(triggering, references);
  if (senders.length > 1) left.add(`senders other than the first (${senders.join(', ')})`, frame.path);
  const note = textAt(frame, 'DESC', 'L-2');
  const entry: Record<string, unknown> = {
    name: nameOf(frame) || `message_${formatId(id, extended)}`,
    id,
    extended,
    length,
    period_ms: periods[0] ?? null,
    ...(senders[0] !== undefined && { sender: senders[0] }),
    ...(note !== '' && { note }),
    ...(content.selector !== undefined && { selector: content.selector }),
    ...(content.counter !== undefined && { counter: content.counter }),
    ...(content.check !== undefined && { check: content.check }),
    signals: unique(content.signals),
  };
  return withExact(entry, frame);
}

/** Names of units whose frame port sends this frame. */
function sendersOf(triggering: Element, references: References): string[] {
  const names = list(triggering, 'FRAME-PORT-REFS', 'FRAME-PORT-REF').flatMap((ref) => {
    const port = references.at(ref);
    if (port === undefined || textAt(port, 'COMMUNICATION-DIRECTION') !== 'OUT') return [];
    const unit = references.unitAround(port.path);
    return unit === undefined ? [] : [nameOf(unit)];
  });
  return [...new Set(names)];
}

function unique(signals: readonly Record<string, unknown>[]): Record<string, unknown>[] {
  const names = new Set<unknown>();
  return signals.map((signal) => {
    let name = String(signal['name']);
    for (let n = 2; names.has(name); n++) name = `${String(signal['name'])} ${n}`;
    names.add(name);
    return { ...signal, name };
  });
}

/** Takes out what contradicts itself, telling each, until nothing does. */
function consistent(
  dictionary: Dictionary,
  places: ReadonlyMap<Message, Located>,
  problems: AutosarProblem[],
): Dictionary {
  for (;;) {
    const [first] = dictionaryProblems(dictionary);
    if (first === undefined) return dictionary;
    const [, m, field, s] = first.path;
    const message = dictionary.messages[m as number] as Message;
    const { line = 0, path = '' } = places.get(message) ?? {};
    problems.push({ line, element: path, found: first.found, expected: first.expected });
    if (field === 'signals') message.signals.splice(s as number, 1);
    else if (field === 'counter' || field === 'check' || field === 'selector') delete message[field];
    else dictionary.messages.splice(m as number, 1);
  }
}
