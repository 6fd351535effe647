/** What is wrong in the build's files: where, what was found, what would be right. */
import type { Problem } from '../../src/build/model.ts';

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
