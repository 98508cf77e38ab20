/** What every page is: one file, no script, nothing loaded from anywhere, in one look. */
import { escaped } from '../markup.js'
import { STYLE } from './style.js'

/** @param title escaped here @param body markup of its sections @param look rules that this page has besides those of all */
export function pageOf(title: string, body: string, look = ''): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>${escaped(title)}</title>
<style>${STYLE}${look}</style>
</head>
<body>
<main>
${body}</main>
</body>
</html>
`
}
