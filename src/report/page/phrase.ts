/** Words on a page: nothing in them becomes markup, and a number stays on one line with its unit. */
import { escaped } from '../markup.js'
import { kept } from '../measured.js'

export function phrase(text: string): string {
  return kept(escaped(text))
}
