/**
 * Lines of guardian.jsonl: what the guardian saw and did after it took over from the bench process. Times are those of the
 * recording beside it.
 */
import type { Nanos } from '../clock.js'
import type { EmergencyCategory } from './event.js'

export type GuardianEvent =
  /** Why it took over. `unheard`: ns since the last finished tick. */
  | { kind: 'takeover'; t: Nanos; cause: string; unheard: Nanos; says: string }
  /** The bench process was ended. `gone`: nothing of it was left when the stop began; if not, a second one says when. */
  | { kind: 'bench ended'; t: Nanos; gone: boolean }
  /** The same of the driver's process, where the driver owns the buses and its process is one of the run's. */
  | { kind: 'driver ended'; t: Nanos; gone: boolean }
  /** A bus that could not be had or took no frame. */
  | { kind: 'bus'; t: Nanos; place: string; says: string }
  /** The stop was handed to the buses. */
  | { kind: 'stop'; t: Nanos; category: EmergencyCategory }
  /** A drive that had to be told in more than one way. */
  | { kind: 'notice'; t: Nanos; place: string; says: string }
  /** What a drive confirmed: its state, since when its joint was at rest (null: not seen at rest), how far it sagged (rad, null: not seen). */
  | {
      kind: 'drive'
      t: Nanos
      place: string
      state: string
      off: boolean
      still: Nanos | null
      sag: number | null
    }
  /** Always last. `still`: when the last joint came to rest, null if not all were seen to. */
  | { kind: 'end'; t: Nanos; confirmed: number; drives: number; still: Nanos | null }

/** In the recording folder; only there when the guardian took over. */
export const GUARDIAN_FILE = 'guardian.jsonl'
