/** What is wrong in the build's files: where, what was found, what would be right. */
import type { Problem } from '../../src/build/model.ts';
import { counted } from '../words.ts';
import { Note, Section } from './Section.tsx';

/** What has to be mended, then what only asks for care; nothing where there is neither. */
export function ProblemSections({ problems }: { problems: Problem[] }) {
  const cautions = problems.filter(({ weight }) => weight === 'caution');
  const rest = problems.filter(({ weight }) => weight !== 'caution');
  return (
    <>
      {rest.length > 0 && (
        <Section
          title={counted(rest.length, 'problem in the files', 'problems in the files')}
          notes={
            <Note title="What to do">
              Mend the line in your editor and save; this sheet reads the folder again by itself. Nothing was
              changed in it.
            </Note>
          }
        >
          <Problems problems={rest} />
        </Section>
      )}
      {cautions.length > 0 && (
        <Section
          title={counted(cautions.length, 'caution about the files', 'cautions about the files')}
          notes={<Note title="A caution">The build can be used as it is; look whether it is meant so.</Note>}
        >
          <Problems problems={cautions} />
        </Section>
      )}
    </>
  );
}

export function Problems({ problems }: { problems: Problem[] }) {
  return (
    <table class="problems">
      <thead>
        <tr>
          <th>file</th>
          <th class="n">line</th>
          <th>field</th>
          <th>found</th>
          <th>expected</th>
        </tr>
      </thead>
      <tbody>
        {problems.map((p) => (
          <tr key={`${p.file}:${p.line}:${p.column}:${p.field}`}>
            <td>
              <code>{p.file}</code>
            </td>
            <td class="n">{p.line > 0 ? p.line : 'whole file'}</td>
            <td>
              <code>{p.field}</code>
            </td>
            <td>{p.found}</td>
            <td>{p.expected}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
