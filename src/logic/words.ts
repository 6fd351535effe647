/** Words that cannot be names, because the generated C needs them for itself; names of its helpers begin with bw_. */

export function isReserved(name: string): boolean {
  return RESERVED.has(name) || name.startsWith('bw_');
}

/** Keywords of C99 (ISO/IEC 9899:1999, 6.4.1), what stdbool.h and stdint.h define, and the keywords that C++ adds, for a C++ toolchain. */
const RESERVED = new Set(
  `auto break case char const continue default do double else enum extern float for goto if inline int long register
  restrict return short signed sizeof static struct switch typedef union unsigned void volatile while asm
  bool true false int8_t int16_t int32_t int64_t uint8_t uint16_t uint32_t uint64_t
  and bitand bitor catch class compl delete explicit export friend mutable namespace new not operator or private
  protected public template this throw try typeid typename using virtual xor`.split(/\s+/),
);
