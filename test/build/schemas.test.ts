import { readdirSync } from 'node:fs';
import { resolve } from 'node:path';
import { expect, test } from 'vitest';
import { jsonSchemas } from '../../src/build/schemas.ts';

/** After a change to a schema: `npx vitest run test/build/schemas.test.ts -u`, and look at the difference. */
test('the schema files for editors say what the program validates', async () => {
  for (const [name, text] of Object.entries(jsonSchemas()))
    await expect(text).toMatchFileSnapshot(resolve('schemas', name));
});

test('there is a schema file for each kind of file and no other', () => {
  expect(readdirSync(resolve('schemas')).sort()).toEqual(Object.keys(jsonSchemas()).sort());
});
