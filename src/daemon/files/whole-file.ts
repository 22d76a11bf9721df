import { closeSync, fchownSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { open, rename, rm } from 'node:fs/promises';
import { dirname } from 'node:path';
import { makeFolder, makeFolderNow, PRIVATE } from './make-folder.js';

/**
 * Writes a file that is whole at any moment: beside, brought to the disk, then renamed over the old one, so
 * that a crash or a power cut leaves the old or the new. Throws what the system says.
 */
export async function writeWhole(file: string, text: string): Promise<void> {
  const folder = dirname(file);
  await makeFolder(folder, PRIVATE);
  const beside = `${file}.new`;
  // Whatever is in the way, a FIFO for one, is not waited for.
  await rm(beside, { force: true });
  const handle = await open(beside, 'wx', 0o600);
  try {
    await handle.writeFile(text);
    await handle.sync();
  } catch (error) {
    // What a full disk took of it helps nobody.
    await rm(beside, { force: true }).catch(() => undefined);
    throw error;
  } finally {
    await handle.close();
  }
  await rename(beside, file);
  // The rename itself is in the folder, which is brought to the disk like a file.
  const entry = await open(folder, 'r');
  try {
    await entry.sync();
  } finally {
    await entry.close();
  }
}

/**
 * The same before the light is on, when there is nobody to wait for it.
 * @param owner whose it is to be; left out: of who writes it
 */
export function writeWholeNow(
  file: string,
  text: string,
  owner?: { readonly uid: number; readonly gid: number },
): void {
  makeFolderNow(dirname(file), PRIVATE);
  const beside = `${file}.new`;
  rmSync(beside, { force: true });
  const handle = openSync(beside, 'wx', 0o600);
  try {
    writeSync(handle, text);
    if (owner !== undefined) fchownSync(handle, owner.uid, owner.gid);
    fsyncSync(handle);
  } catch (error) {
    removeNow(beside);
    throw error;
  } finally {
    closeSync(handle);
  }
  renameSync(beside, file);
}

function removeNow(file: string): void {
  try {
    rmSync(file, { force: true });
  } catch {
    // Why it could not be written is what counts.
  }
}
