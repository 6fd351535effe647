/** Helper functions of generated C: each program names those it calls, and a file holds each once. */
import { type CrcParameters, crcStart, crcTable } from '../can/crc.ts';

/** A helper as C text; equal names have equal text. */
export interface CSupport {
  name: string;
  text: string;
}

/** The text of the helpers, each once, in a fixed order; stands before the definitions that call them. */
export function supportText(support: Iterable<CSupport>): string {
  const byName = new Map([...support].map((s) => [s.name, s.text]));
  return [...byName.keys()]
    .sort()
    .map((name) => `${byName.get(name)}\n`)
    .join('\n');
}

export const HELPERS = {
  abs: helper(
    'bw_abs',
    `static int32_t bw_abs(int32_t x)
{
    return x < 0 ? -x : x;
}`,
  ),
  min: helper(
    'bw_min',
    `static int32_t bw_min(int32_t a, int32_t b)
{
    return a < b ? a : b;
}`,
  ),
  max: helper(
    'bw_max',
    `static int32_t bw_max(int32_t a, int32_t b)
{
    return a > b ? a : b;
}`,
  ),
  clamp: helper(
    'bw_clamp',
    `/* x, raised to lo, then lowered to hi. */
static int32_t bw_clamp(int32_t x, int32_t lo, int32_t hi)
{
    const int32_t raised = x < lo ? lo : x;
    return raised > hi ? hi : raised;
}`,
  ),
  elapsed: helper(
    'bw_elapsed',
    `/* Milliseconds from one clock reading to a later one, also across the wrap of the clock; at most \`most\`. */
static int32_t bw_elapsed(uint32_t now, uint32_t before, int32_t most)
{
    const uint32_t elapsed = (uint32_t)(now - before);
    return elapsed < (uint32_t)most ? (int32_t)elapsed : most;
}`,
  ),
  table: helper(
    'bw_table',
    `/* A point of a piecewise linear table; slope: how much the line to the next one rises or falls, in 1/256. */
typedef struct {
    int32_t x;
    int32_t y;
    int32_t slope;
} bw_point_t;

/* Value of a table at x >= 0. Rounded towards the smaller value, so that a limit is never rounded up. */
static int32_t bw_table(int32_t x, const bw_point_t *points, int32_t count)
{
    if (x <= points[0].x) {
        return points[0].y;
    }
    for (int32_t i = 1; i < count; i++) {
        if (x < points[i].x) {
            const bw_point_t from = points[i - 1];
            const int32_t to = points[i].y;
            const int32_t change = (x - from.x) * from.slope;
            if (to >= from.y) {
                return from.y + change / 256;
            }
            const int32_t fallen = from.y - (change + 255) / 256;
            return fallen > to ? fallen : to;
        }
    }
    return points[count - 1].y;
}`,
  ),
} as const;

/** The helper for one polynomial: `name(bytes, count, start)` gives the register after the bytes. */
export function crcHelper(p: CrcParameters): CSupport & { start: number } {
  const digits = p.width / 4;
  const polynomial = p.poly.toString(16).padStart(digits, '0');
  const name = `bw_crc${p.width}_${polynomial}${p.reflected ? '_reflected' : ''}`;
  const type = p.width === 8 ? 'uint8_t' : 'uint16_t';
  const entries = [...crcTable(p)].map((v) => `0x${v.toString(16).toUpperCase().padStart(digits, '0')}`);
  const perRow = p.width === 8 ? 12 : 8;
  const rows = Array.from(
    { length: Math.ceil(256 / perRow) },
    (_, i) => `    ${entries.slice(i * perRow, (i + 1) * perRow).join(', ')}`,
  );
  const text = `static const ${type} ${name}_table[256] = {
${rows.join(',\n')}
};

/* CRC of ${p.width} bits, polynomial 0x${polynomial.toUpperCase()}${p.reflected ? ', least significant bit first' : ''}: the register after the bytes. */
static int32_t ${name}(const uint8_t *bytes, int32_t count, uint32_t crc)
{
    for (int32_t i = 0; i < count; i++) {
        crc = ${registerAfterByte(p, name)};
    }
    return (int32_t)crc;
}`;
  return { name, text, start: crcStart(p) };
}

function registerAfterByte(p: CrcParameters, name: string): string {
  if (p.width === 8) return `${name}_table[crc ^ bytes[i]]`;
  if (p.reflected) return `(crc / 256u) ^ ${name}_table[(crc ^ bytes[i]) % 256u]`;
  return `((crc % 256u) * 256u) ^ ${name}_table[(crc / 256u) ^ bytes[i]]`;
}

function helper(name: string, text: string): CSupport {
  return { name, text };
}
