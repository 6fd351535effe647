/** A recording that cannot be read or written: the message is one full sentence with what, where and what would be right. */
export class CaptureError extends Error {
  override readonly name = 'CaptureError';
}
