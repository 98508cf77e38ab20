/**
 * Stops the arms of a rig from a terminal of its own. For each bus by the guardian that stops all of its drives, and by opening
 * the bus where there is none, or where it does not answer; the buses do not wait for each other.
 *
 * A guardian whose owner is neither we nor root may be false (places.ts). It is asked, because it may be a colleague's whose
 * arms these are; and the bus is opened at once, because it may be nobody's.
 */
import type { RealTime } from '../clock.js'
import type { Rig } from '../files/rig.js'
import { type Answer, type Asked, ask } from './ask.js'
import { type DirectStop, stopDirectly } from './direct.js'
import { placesOf, tidy } from './guardian/meeting-place.js'
import type { Halted } from './halt.js'
import { leaveStopMark, tidyMarks } from './mark.js'
import { busNames, driveNames, ownFolder, type Places } from './places.js'

/** What was stopped, and by whom. */
export interface StopPart {
  readonly by: 'bench' | 'guardian' | 'ourselves'
  readonly drives: readonly Halted[]
}

export interface StopReport {
  readonly parts: readonly StopPart[]
  readonly unreachable: DirectStop['unreachable']
  /** Users whose guardians were asked and are not to be believed. */
  readonly others: readonly number[]
  /** What else did not go as it should: whole sentences. */
  readonly troubles: readonly string[]
}

/** Never rejects for what it finds on this machine or on a bus. */
export async function stopArms(rig: Rig, clock: RealTime, places: Places): Promise<StopReport> {
  const troubles: string[] = []
  const attempt = (act: () => void): void => {
    try {
      act()
    } catch (error) {
      troubles.push(`A run that is about to begin cannot be told: ${(error as Error).message}`)
    }
  }
  // Before guardians are looked for: a run that is about to begin has none yet, and finds this.
  attempt(() => leaveStopMark(rig, places))
  const asked = placesOf(rig, places).map((place) => ask(place, rig.stop.timeout))
  const believed = asked.filter(({ place }) => places.trusted.includes(place.uid))
  const buses = await Promise.all(rig.buses.map(({ index }) => stopBus(rig, index, believed, clock)))
  const answers = new Set(buses.flatMap(({ answer }) => answer ?? []))
  const direct = buses.flatMap((bus) => bus.direct ?? [])
  const drives = direct.flatMap((d) => d.drives).sort((a, b) => a.joint - b.joint)
  const parts: StopPart[] = [...answers].map((answer) => ({ by: answer.by, drives: answer.drives }))
  if (drives.length > 0) parts.push({ by: 'ourselves', drives })
  const others = new Set<number>()
  for (const { place, heard } of asked) {
    if (!believed.some((b) => b.place === place) && (await heard) !== null) others.add(place.uid)
  }
  for (const { leave } of asked) leave()
  await tidyUp(places)
  return { parts, unreachable: direct.flatMap((d) => d.unreachable), others: [...others], troubles }
}

interface StoppedBus {
  readonly answer?: Answer
  readonly direct?: DirectStop
}

async function stopBus(
  rig: Rig,
  index: number,
  believed: readonly Asked[],
  clock: RealTime,
): Promise<StoppedBus> {
  const names = busNames(rig.buses[index]!.address)
  const wanted = driveNames({ buses: rig.buses, joints: rig.joints.filter((j) => j.wire.bus === index) })
  const answers = await Promise.all(
    believed
      .filter(({ place }) => names.some((name) => place.buses.has(name)))
      .map(async ({ heard, answer }) => {
        const stops = new Set(await heard)
        // A guardian of another rig may know of some drives of this bus only.
        return wanted.every((spellings) => spellings.some((name) => stops.has(name))) ? answer : null
      }),
  )
  const answer = answers.find((a) => a !== null)
  return answer ? { answer } : { direct: await stopDirectly(rig, clock, [index]) }
}

async function tidyUp(places: Places): Promise<void> {
  try {
    const folder = ownFolder(places)
    tidyMarks(folder)
    await tidy(folder)
  } catch {
    // It was said when the mark could not be left.
  }
}
