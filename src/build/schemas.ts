/** JSON Schema files for editors, made from the schemas that validate: `schemas/<kind>.schema.json`. */
import { z } from 'zod';
import { FILE_KINDS } from './files.ts';

/** Content by file name. Editors check what a person writes, so defaults may be left out (the input side). */
export function jsonSchemas(): Record<string, string> {
  return Object.fromEntries(
    Object.entries(FILE_KINDS).map(([kind, { path, form, schema }]) => {
      const made = z.toJSONSchema(schema, { io: 'input' });
      const titled = { $schema: made.$schema, title: `${path} of a build, form ${form}`, ...made };
      return [`${kind}.schema.json`, `${JSON.stringify(titled, null, 2)}\n`];
    }),
  );
}
