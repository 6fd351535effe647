/** Sheet 2: the recordings of the build. */
import type { BuildReply } from '../../src/server/api.ts';
import { Note, Passage } from '../parts/Passage.tsx';
import { Sheet } from '../parts/Sheet.tsx';
import { addressOf, type Route } from '../route.ts';
import { bytesWords, counted, timeWords } from '../words.ts';

export function CapturesSheet({ route, reply }: { route: Route; reply: BuildReply }) {
  const { captures, build } = reply;
  return (
    <Sheet
      number="2"
      title="Captures"
      words="Captures"
      lead={`${counted(captures.length, 'recording')} in the folder captures/. Each has its own sheet.`}
      route={route}
      build={reply}
    >
      <Passage
        notes={
          <Note title="A new recording">
            Copy it into <code>captures/</code>: the list follows. A cue sheet in <code>cues/</code> says what
            was done when; recordings with cues tell much more than recordings without.
          </Note>
        }
      >
        {captures.length === 0 ? (
          <p class="quiet">There is none yet.</p>
        ) : (
          <table>
            <thead>
              <tr>
                <th>sheet</th>
                <th>capture</th>
                <th class="n">size</th>
                <th>changed</th>
                <th>cues</th>
                <th>findings</th>
              </tr>
            </thead>
            <tbody>
              {captures.map(({ name, bytes, changed }, i) => {
                const cues =
                  build?.cueSheets.filter((sheet) => sheet.capture === name).flatMap((sheet) => sheet.cues) ??
                  [];
                return (
                  <tr key={name}>
                    <td>2.{i + 1}</td>
                    <th scope="row">
                      <a href={addressOf({ sheet: 'captures', capture: name })}>{name}</a>
                    </th>
                    <td class="n">{bytesWords(bytes)}</td>
                    <td>{timeWords(changed)}</td>
                    <td>{cues.length > 0 ? [...new Set(cues)].join(', ') : '–'}</td>
                    <td>
                      <a href={addressOf({ sheet: 'messages', capture: name, message: null })}>messages</a>
                    </td>
                  </tr>
                );
              })}
            </tbody>
          </table>
        )}
      </Passage>
    </Sheet>
  );
}
