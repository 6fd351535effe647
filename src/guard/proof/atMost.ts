/** Runs `work` on every item, `width` of them at a time, in the order of the list; the first failure ends it. */
export async function atMost<T, R>(
  width: number,
  items: readonly T[],
  work: (item: T) => Promise<R>,
): Promise<R[]> {
  const results: R[] = [];
  let next = 0;
  const worker = async () => {
    while (next < items.length) {
      const at = next++;
      try {
        results[at] = await work(items[at] as T);
      } catch (error) {
        next = items.length;
        throw error;
      }
    }
  };
  await Promise.all(Array.from({ length: Math.min(width, items.length) }, worker));
  return results;
}
