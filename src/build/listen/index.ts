/**
 * Recording a live stream into a build: its source (standard input or a socket of this computer), the file that grows,
 * the cue sheet that is written as things are done, and a status that other processes can look at.
 */
export { ListenError } from './error.ts';
export { Listening } from './listen.ts';
export type { Listened, ListenOptions, ListenState } from './model.ts';
export { parseSource, type SourceAddress } from './source.ts';
export { type ListeningStatus, listeningNow } from './status.ts';
