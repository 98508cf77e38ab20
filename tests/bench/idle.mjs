/** What a node process takes that does nothing. */
console.log(JSON.stringify({ maxRss: process.resourceUsage().maxRSS * 1024 }))
