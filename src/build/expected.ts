/** What a schema expects at a place, in words: "a number of kg from 200 to 20000 (as driven: …)". */
import { z } from 'zod';
import type { FieldPath } from './problem.ts';
import { unitOf } from './units.ts';

/** The part of JSON Schema that zod writes for our forms. */
export interface SchemaNode {
  type?: string;
  const?: unknown;
  enum?: unknown[];
  anyOf?: SchemaNode[];
  properties?: Record<string, SchemaNode>;
  required?: string[];
  items?: SchemaNode;
  additionalProperties?: SchemaNode | boolean;
  description?: string;
  minimum?: number;
  maximum?: number;
  exclusiveMinimum?: number;
  exclusiveMaximum?: number;
  minLength?: number;
  minItems?: number;
  maxItems?: number;
}

const cache = new WeakMap<z.ZodType, SchemaNode>();

/** JSON Schema of the input side, worked out once per schema. */
export function schemaNode(schema: z.ZodType): SchemaNode {
  let node = cache.get(schema);
  if (node === undefined) {
    // Alternatives told apart by one field come as oneOf, others as anyOf; to a reader they are the same.
    node = JSON.parse(
      JSON.stringify(z.toJSONSchema(schema, { io: 'input' })).replaceAll('"oneOf":', '"anyOf":'),
    ) as SchemaNode;
    cache.set(schema, node);
  }
  return node;
}

/** The node at a path, null where the schema knows no such place. */
export function nodeAt(root: SchemaNode, path: FieldPath): SchemaNode | null {
  let nodes = [root];
  for (const part of path) {
    nodes = nodes.flatMap((node) => node.anyOf ?? [node]).flatMap((option) => step(option, part) ?? []);
  }
  return nodes[0] ?? null;
}

/** Words for what a node accepts; `field` is the name whose ending tells the unit. */
export function expectation(node: SchemaNode, field: string): string {
  const words = kindWords(node, field);
  return node.description === undefined ? words : `${words} (${node.description})`;
}

function step(node: SchemaNode, part: string | number): SchemaNode | null {
  if (typeof part === 'number') return node.items ?? null;
  const known = node.properties?.[part];
  if (known !== undefined) return known;
  return typeof node.additionalProperties === 'object' ? node.additionalProperties : null;
}

function kindWords(node: SchemaNode, field: string): string {
  if (node.const !== undefined) return quoted(node.const);
  if (node.enum !== undefined) return orList(node.enum.map(quoted));
  if (node.anyOf !== undefined) return orList(node.anyOf.map((option) => kindWords(option, field)));
  switch (node.type) {
    case 'integer':
    case 'number':
      return numberWords(node, field);
    case 'string':
      return node.minLength ? 'text that is not empty' : 'text';
    case 'boolean':
      return 'true or false';
    case 'null':
      return 'null';
    case 'array':
      return `a list${countWords(node)}`;
    default: {
      const names = Object.keys(node.properties ?? {});
      return names.length === 0 ? 'a group of fields' : `a group with the fields ${names.join(', ')}`;
    }
  }
}

function numberWords(node: SchemaNode, field: string): string {
  const unit = unitOf(field);
  const what = `${node.type === 'integer' ? 'a whole number' : 'a number'}${unit === null ? '' : ` of ${unit}`}`;
  const low = bounded(node.minimum);
  const high = bounded(node.maximum);
  if (low !== null && high !== null) return `${what} from ${low} to ${high}`;
  const parts: string[] = [];
  if (node.exclusiveMinimum !== undefined) parts.push(`greater than ${node.exclusiveMinimum}`);
  if (low !== null) parts.push(`at least ${low}`);
  if (node.exclusiveMaximum !== undefined) parts.push(`less than ${node.exclusiveMaximum}`);
  if (high !== null) parts.push(`at most ${high}`);
  return parts.length === 0 ? what : `${what} ${parts.join(' and ')}`;
}

/** zod writes the largest safe integer where no bound was meant. */
function bounded(limit: number | undefined): number | null {
  return limit === undefined || Math.abs(limit) === Number.MAX_SAFE_INTEGER ? null : limit;
}

function countWords(node: SchemaNode): string {
  if (node.minItems !== undefined && node.maxItems !== undefined)
    return ` of ${node.minItems} to ${node.maxItems}`;
  if (node.minItems !== undefined) return ` of at least ${node.minItems}`;
  return node.maxItems === undefined ? '' : ` of at most ${node.maxItems}`;
}

function orList(words: string[]): string {
  if (words.length < 2) return words.join('');
  return `${words.slice(0, -1).join(', ')} or ${words[words.length - 1]}`;
}

function quoted(value: unknown): string {
  return typeof value === 'string' ? `"${value}"` : String(value);
}
