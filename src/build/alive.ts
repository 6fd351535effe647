import { codeOf } from './disk.ts';

/** Whether a process of this number runs on this computer. */
export function isAlive(pid: number): boolean {
  if (pid === process.pid) return true;
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return codeOf(error) === 'EPERM';
  }
}
