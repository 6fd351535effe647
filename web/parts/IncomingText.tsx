/** The first lines of a text recording beside what they were read as, and the columns to name where that is wrong. */
import { useState } from 'preact/hooks';
import type { LineReading, TextPreview, TextReading } from '../../src/capture/text/preview.ts';
import { sentence } from '../words.ts';

interface TextProps {
  text: TextPreview;
  /** Columns named by the person, '' for the inferred ones. */
  columns: string;
  setColumns: (columns: string) => void;
}

export function IncomingText({ text, columns, setColumns }: TextProps) {
  const { inferred, named, lines } = text;
  const [words, setWords] = useState(columns || ('columns' in inferred ? inferred.columns : ''));
  return (
    <>
      {'columns' in inferred && (
        <p>
          <b>{inferred.confidence === null ? 'Columns by the header line' : 'Columns as inferred'}:</b>{' '}
          {readingWords(inferred)}
        </p>
      )}
      {named && (
        <p>
          <b>Columns as named:</b> {readingWords(named)}
        </p>
      )}
      <div class="wide">
        <table class="lines">
          <thead>
            <tr>
              <th class="n">line</th>
              <th>read</th>
              <th>time, s</th>
              <th class="n">bus</th>
              <th>identifier</th>
              <th>payload</th>
            </tr>
          </thead>
          {lines.map((line) => (
            <tbody key={line.line}>
              <tr class="written">
                <td class="n">{line.line}</td>
                <td>as written</td>
                <td colSpan={4}>
                  <code>{line.text}</code>
                </td>
              </tr>
              {line.inferred && <LineRow by="as inferred" reading={line.inferred} />}
              {line.named && <LineRow by="as named" reading={line.named} />}
            </tbody>
          ))}
        </table>
      </div>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          setColumns(words.trim());
        }}
      >
        <div class="inputs">
          <label>
            Columns in their order, where the reading is wrong: time, day, bus, id, ext, length, data, bytes,
            joined, direction, flags, and - for one to ignore; units and bases as in time:ms or id:dec
            <input
              spellcheck={false}
              autocomplete="off"
              value={words}
              onInput={(event) => setWords((event.currentTarget as HTMLInputElement).value)}
            />
          </label>
        </div>
        <p class="answers">
          <button type="submit">Read by these columns</button>{' '}
          {columns !== '' && (
            <button type="button" onClick={() => setColumns('')}>
              Read by the inferred ones
            </button>
          )}
        </p>
      </form>
    </>
  );
}

function LineRow({ by, reading }: { by: string; reading: LineReading }) {
  return (
    <tr>
      <td />
      <td>{by}</td>
      {'none' in reading ? (
        <td colSpan={4} class="quiet">
          {reading.none}
        </td>
      ) : (
        <>
          <td>{reading.time}</td>
          <td class="n">{reading.bus}</td>
          <td>
            <code>{reading.id}</code>
          </td>
          <td>
            <code>{reading.data}</code>
            {reading.kind && ` ${reading.kind}`}
            {reading.data === '' && ` (${reading.length} bytes)`}
          </td>
        </>
      )}
    </tr>
  );
}

function readingWords(reading: TextReading) {
  if ('error' in reading) return sentence(reading.error);
  const { columns, separator, confidence, fits, of } = reading;
  return (
    <>
      <code>{columns}</code>, {separator} between them; {fits} of {of} sample lines fit
      {confidence === null ? '' : `, confidence ${confidence.toFixed(2)}`}.
    </>
  );
}
