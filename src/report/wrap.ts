/** Text in lines of a given width. */
import { kept, released } from './measured.js'

/** Breaks at blanks, but for those within what was measured; words longer than a line are broken hard. @param hang indent of all lines but the first */
export function wrap(text: string, width: number, indent: number, hang = indent): string[] {
  const lines: string[] = []
  let line = ' '.repeat(indent)
  let empty = true
  const close = (): void => {
    lines.push(line)
    line = ' '.repeat(hang)
    empty = true
  }
  for (let word of kept(text).split(' ')) {
    if (!empty && line.length + 1 + word.length > width) close()
    while (line.length + word.length > width) {
      const fits = width - line.length
      line += word.slice(0, fits)
      word = word.slice(fits)
      close()
    }
    line += empty ? word : ` ${word}`
    empty = false
  }
  lines.push(line)
  return lines.map(released)
}

/** A text of several lines, each of which keeps its indent; what stands behind a dash stays behind it. */
export function wrapLines(text: string, width: number): string {
  return text
    .split('\n')
    .flatMap((line) => {
      const indent = line.length - line.trimStart().length
      const words = line.slice(indent)
      return words === '' ? [''] : wrap(words, width, indent, words.startsWith('- ') ? indent + 2 : indent)
    })
    .join('\n')
}
