/** Text into XML and HTML: nothing that a file or a bus says can become markup. */

/** What XML 1.0 (2.2, Char) forbids, and the control characters that it discourages; \p{Cs} is a surrogate alone. */
const FORBIDDEN = /(?![\t\n\r])\p{Cc}|\p{Cs}|[\ufffe\uffff]/gu

const ENTITY: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
}

/** Fit for text and for quoted attributes of XML and HTML. Characters that XML cannot hold become U+FFFD. */
export function escaped(text: string): string {
  return text.replace(FORBIDDEN, '\ufffd').replace(/[&<>"']/g, (c) => ENTITY[c]!)
}
