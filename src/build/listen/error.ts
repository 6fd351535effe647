/** Listening could not begin, or nothing was kept; the message is one sentence with the remedy. */
export class ListenError extends Error {
  override readonly name = 'ListenError';
}
