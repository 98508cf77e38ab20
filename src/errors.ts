/**
 * One error class for everything that Drystroke refuses, with a code that programs can test. The codes stand
 * here and nowhere else; each says which exit status the command line ends with.
 */

/** Exit statuses of the command line. */
export const EXIT = { pass: 0, fail: 1, badInput: 2, stopped: 3, incomplete: 4, defect: 5 } as const

export type ExitStatus = (typeof EXIT)[keyof typeof EXIT]

const STATUS_OF = {
  /** A file cannot be read or written. */
  'file-access': EXIT.badInput,
  /** A file was read and what it says is not acceptable; the message lists every place. */
  'file-invalid': EXIT.badInput,
  /** A quantity string has no unit, the wrong unit, or is no number. */
  'unit-invalid': EXIT.badInput,
  /** The command line was misused. */
  usage: EXIT.badInput,
  /** A blade pose cannot be reached inside joint limits and singularity margin. */
  unreachable: EXIT.badInput,
  /** A recording is damaged or is no recording. */
  'recording-invalid': EXIT.badInput,
  /** A bus cannot be opened: no such device or interface, not permitted, in use, nobody there. */
  'bus-access': EXIT.badInput,
  /** The guardian cannot be started, or found. */
  guardian: EXIT.badInput,
  /** Real arms would move, and what must be confirmed by people before has not been. */
  'not-confirmed': EXIT.badInput,
  /** Arms are said to be a stand-in, and have not proven it. */
  'not-stand-in': EXIT.badInput,
  /** The driver under test cannot be started or reached, or does not say that it is ready. */
  'driver-access': EXIT.badInput,
  /** In a run: it died, or cannot be reached any more. */
  'driver-lost': EXIT.badInput,
  /** It does not answer, or takes nothing. */
  'driver-silent': EXIT.badInput,
  /** What it sends is no answer. */
  'driver-rubbish': EXIT.badInput,
  /** It sends more than anybody reads. */
  'driver-flood': EXIT.badInput,
  /** A bug of ours. */
  defect: EXIT.defect,
} as const satisfies Record<string, ExitStatus>

export type ErrorCode = keyof typeof STATUS_OF

/** What an error is about: file, joint, bus, phase ... Values are printed, so keep them short. */
export type ErrorContext = Readonly<Record<string, string | number | boolean | undefined>>

export class DrystrokeError extends Error {
  override readonly name = 'DrystrokeError'
  readonly code: ErrorCode
  readonly context: ErrorContext

  /** @param message what, where, what was expected, and what to do */
  constructor(code: ErrorCode, message: string, context: ErrorContext = {}, cause?: unknown) {
    super(message, cause === undefined ? undefined : { cause })
    this.code = code
    this.context = context
  }

  get exitStatus(): ExitStatus {
    return STATUS_OF[this.code]
  }
}

export function isErrorCode(code: string): code is ErrorCode {
  return Object.hasOwn(STATUS_OF, code)
}
