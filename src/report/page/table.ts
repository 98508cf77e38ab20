/** Tables and lists of facts. Cells hold markup: whoever makes them escapes what comes from outside. */
import { phrase } from './phrase.js'

export interface Column {
  readonly title: string
  /** Class of the cells. */
  readonly look?: string
}

/**
 * Rows whose first cell is the row's heading.
 * @param look `numbers` sets cells to the right; `stack` shows rows as cards on a narrow screen
 */
export function table(
  caption: string,
  columns: readonly Column[],
  rows: readonly (readonly string[])[],
  look: 'numbers' | 'stack',
): string {
  // A table that is laid out as blocks loses its meaning to a screen reader unless the roles are said.
  const head = columns.map((c) => `<th role="columnheader" scope="col">${phrase(c.title)}</th>`).join('')
  const body = rows
    .map((cells) => `<tr role="row">${cells.map((cell, i) => cellOf(cell, columns[i]!, i)).join('')}</tr>\n`)
    .join('')
  return (
    `<div class="scroll"><table role="table" class="${look}"><caption>${phrase(caption)}</caption>\n` +
    `<thead role="rowgroup"><tr role="row">${head}</tr></thead>\n<tbody role="rowgroup">\n${body}</tbody></table></div>\n`
  )
}

function cellOf(cell: string, column: Column, i: number): string {
  const look = column.look === undefined ? '' : ` class="${column.look}"`
  if (i === 0) return `<th role="rowheader" scope="row"${look}>${cell}</th>`
  return `<td role="cell"${look} data-label="${phrase(column.title)}">${cell}</td>`
}

/** Name and value pairs; both are escaped here. @param set the values: `escaped` for what somebody may copy from the page */
export function facts(
  pairs: readonly (readonly [name: string, value: string])[],
  set: (value: string) => string = phrase,
): string {
  const rows = pairs.map(([name, value]) => `<div><dt>${phrase(name)}</dt><dd>${set(value)}</dd></div>`)
  return `<dl class="facts">${rows.join('')}</dl>\n`
}

export function list(items: readonly string[]): string {
  return `<ul>${items.map((item) => `<li>${phrase(item)}</li>`).join('')}</ul>\n`
}

export function section(id: string, title: string, body: string): string {
  return `<section id="${id}" aria-labelledby="${id}-title"><h2 id="${id}-title">${phrase(title)}</h2>\n${body}</section>\n`
}
