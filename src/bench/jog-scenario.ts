/** The scenario of a guided jog: nothing is commanded, and it lasts until a person has done. */
export const JOG_SCENARIO = `name: jog
about: One joint at a time, guided by a person.
duration: "1440 min"
plant: dry
expect: { outcome: finish, parked: false }
`
