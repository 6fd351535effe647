/** Every format that can be read or written, in the order in which content is tried. One more format is one more line. */
import type { CaptureFormat } from './format.ts';
import { mdf4 } from './mdf4.ts';
import { pcap } from './pcap.ts';
import { pcapng } from './pcapng.ts';
import { text } from './text.ts';

export const FORMATS: readonly CaptureFormat[] = [pcap, pcapng, mdf4, text];
