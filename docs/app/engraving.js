/** Stands in until the engraver is here. */
export function engrave() {}
