/** The margin beside the list of messages: what is open of the chosen one, and how the list is read. */
import type { FindingsMessageReply, FindingsReply } from '../../src/server/api.ts';
import { clockWords } from '../messageList.ts';
import { counted, probabilityWords, TIMING } from '../words.ts';
import { Note } from './Section.tsx';

export function MessagesNotes({
  findings,
  message,
}: {
  findings: FindingsReply;
  message: FindingsMessageReply | undefined;
}) {
  const { units } = findings;
  return (
    <>
      {message && (
        <Note title={`${message.id}${message.name ? `, ${message.name}` : ''}`}>
          Sent {TIMING[message.timing]}
          {message.missing ? `, about ${counted(message.missing, 'frame')} missing` : ''}.{' '}
          {message.sender.reason ?? clockSentence(message)}
          {message.open.length > 0 && (
            <ul>
              {message.open.map((text) => (
                <li key={text}>{text}</li>
              ))}
            </ul>
          )}
        </Note>
      )}
      <Note title="Clock">
        Messages of one letter are sent from one clock, so most likely by one unit.{' '}
        {units === null
          ? 'The stamps of this capture place none.'
          : units.low === units.high
            ? `They come from ${counted(units.likely, 'unit')}.`
            : `They come from ${units.low} to ${units.high} units, most likely ${units.likely}.`}
      </Note>
      <Note title="Fingerprint">
        One bar for each bit, its height how often the bit changes; byte 0 at the left, the highest bit of
        each byte first. Messages that carry the same kind of thing look alike.
      </Note>
      <Note title="Keys">
        <kbd>↑</kbd> <kbd>↓</kbd> choose a message, <kbd>Enter</kbd> opens it, <kbd>/</kbd> goes to the
        filter, <kbd>Esc</kbd> empties it, <kbd>s</kbd> takes the next order.
      </Note>
    </>
  );
}

function clockSentence({ sender, ...message }: FindingsMessageReply): string {
  const others = sender.size - 1;
  if (others === 0) return `Clock ${clockWords({ sender, ...message })}, shared with no other.`;
  return `Clock ${clockWords({ sender, ...message })} with ${counted(others, 'other')}, probability ${probabilityWords(sender.probability)}.`;
}
