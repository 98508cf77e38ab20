/** After a bench process that died: its guardian stops the arms and then writes down what it did, which belongs to the verdict. */
import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { wall } from '../../clock.js'
import { GUARDIAN_FILE } from '../../files/guardian-event.js'
import type { Rig } from '../../files/rig.js'
import { LONGEST_STOP } from '../../stop/halt.js'

/** ms between two looks */
const LOOK = 20
/** ms for all that is no stop: to notice, to end the bench process, to write; machines are busy. */
const BESIDES = 5000

/**
 * Waits until the account is there, or will not come: the guardian is gone, or has had more time than any stop takes.
 * @param pid of the guardian
 */
export async function guardianAccount(folder: string, rig: Rig, pid: number): Promise<void> {
  const from = wall.ms()
  const most = 1000 * (rig.guardian.timeout + rig.stop.timeout + LONGEST_STOP + rig.stop.sagWindow) + BESIDES
  // Asked in this order: it writes before it goes.
  for (let there = true; !existsSync(join(folder, GUARDIAN_FILE)) && there; ) {
    if (wall.ms() - from > most) return
    there = lives(pid)
    // This process has nothing else to do, and stays for it.
    await new Promise((resolve) => setTimeout(resolve, LOOK))
  }
}

function lives(pid: number): boolean {
  try {
    process.kill(pid, 0)
    return true
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM'
  }
}
