/** One line of the list of messages. */
import { payloadFingerprint } from '../../src/dossier/figures/index.ts';
import type { FindingsMessageReply } from '../../src/server/api.ts';
import { acceptedWords, clockWords, foundWords } from '../messageList.ts';
import { addressOf } from '../route.ts';
import { milliseconds } from '../words.ts';
import { Drawing } from './Figure.tsx';

interface MessageRowProps {
  message: FindingsMessageReply;
  number: number;
  capture: string;
  isChosen: boolean;
  isContradicted: boolean;
  choose: () => void;
}

export function MessageRow({ message, number, capture, isChosen, isContradicted, choose }: MessageRowProps) {
  const { bus, id, ext, flipRate, name } = message;
  return (
    <tr class={isChosen ? 'chosen' : undefined}>
      <td>3.{number}</td>
      <th scope="row">
        <a href={addressOf({ sheet: 'messages', capture, message: { bus, id, ext } })} onFocus={choose}>
          <code>{id}</code>
        </a>
      </th>
      <td>{name ?? '–'}</td>
      <td class="fingerprint">
        <Drawing
          draw={(document) => payloadFingerprint({ name: id, flipRate }, { document })}
          data={[flipRate]}
        />
      </td>
      <td class="n">
        {message.timing === 'periodic' || message.timing === 'mixed' ? milliseconds(message.periodMs) : '–'}
      </td>
      <td>{foundWords(message)}</td>
      <td>{clockWords(message)}</td>
      <td class="n">
        {acceptedWords(message)}
        {isContradicted && <b class="told"> contradicted</b>}
      </td>
    </tr>
  );
}
