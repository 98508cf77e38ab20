/** What is wrong with a URDF file, in the form that mistakes in rig files have. */
import { DrystrokeError } from '../../errors.js'

/** Both count from 1. */
export interface Place {
  readonly line: number
  readonly column: number
}

export class Mistakes {
  readonly file: string
  /** `file:line:column: where: found this; expected that; what to do`, in the order in which they were found */
  readonly lines: string[] = []

  constructor(file: string) {
    this.file = file
  }

  /** @param where such as `joint elbow`, or nothing */
  add({ line, column }: Place, where: string, found: string, expected: string, advice = ''): void {
    const said = `${where && `${where}: `}found ${found}; expected ${expected}${advice && `; ${advice}`}`
    this.lines.push(`${this.file}:${line}:${column}: ${said}`)
  }
}

/** The error of a file that cannot be read any further. */
export function refusal(
  file: string,
  { line, column }: Place,
  found: string,
  expected: string,
  advice: string,
): DrystrokeError {
  const text = `${file}:${line}:${column}: found ${found}; expected ${expected}; ${advice}`
  return new DrystrokeError('file-invalid', text, { file, mistakes: 1 })
}
