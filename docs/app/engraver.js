/**
 * Draws a line as music: the bundle with VexFlow and its signs, which engraving.js loads where a page has a line.
 *
 * Of VexFlow it uses staves, note heads, stems, beams, ties and signs; where the notes stand, what is written above
 * and below them, and where a system ends is decided here and in spacing.js, so that narrow phones keep their order.
 */

import {
  Accidental, Barline, Beam, Dot, Formatter, Metrics, MetricsDefaults, Stave, StaveNote, StaveTie, SVGContext, Tuplet, Voice,
} from "vexflow/core";
import { narrowest, systems } from "./spacing.js";

/** @typedef {{value: string, dots?: number, length: number, step?: number, bar?: boolean, sign?: string, courtesy?: boolean, tied?: boolean, index?: number, degree?: string, role?: string, string?: number, fret?: number, back?: boolean, held?: boolean, name?: string}} Note */
/** @typedef {{notes: Note[], beams: [number, number][], tuplets: [number, number, number, number][], chords: {text: string, note: number, share: number}[]}} Bar */
/** @typedef {{first: number, last: number, number: number, name: string, row: number}} Bracket */
/** What engine/view/engraving.py tells of a line. @typedef {{octave: number, key: number, meter: [number, number], bars: Bar[], brackets: Bracket[], strings?: number, tapped?: number, tab_only?: boolean}} Spec */
/** A note with what VexFlow makes of it. @typedef {{facts: Note, note: StaveNote, x: number, degree?: SVGTextElement, fret?: SVGTextElement, isTied: boolean}} Drawn */

const FAMILY = "Linekeeper Music";
MetricsDefaults.fontFamily = FAMILY;
MetricsDefaults.Accidental.cautionary.fontSize = 25;
Object.assign(MetricsDefaults.Stave, { strokeStyle: "currentColor", padding: 0 });
MetricsDefaults.Stem.strokeStyle = "currentColor";
Metrics.clear();

const DURATIONS = { breve: "1/2", whole: "w", half: "h", quarter: "q", eighth: "8", "16th": "16", "32nd": "32", "64th": "64", "128th": "128" };
const KEYS = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"];
/** Treble clefs by how many octaves higher than it sounds the line is written. */
const CLEFS = { "-2": "\ue054", "-1": "\ue053", 1: "\ue052", 2: "\ue051" };

// In units, ten to a staff space. On the screen a unit is this many pixels.
const SCALE = 0.85;
const STAFF = 40;
const CLEF = { above: 30, below: 74 };
const HEAD = 6;
const SIGN = 18; // as far as a sign reaches up and down from its note
const TIE = 15;
const FIGURE = 12; // half of a tuplet's, with the hooks of its bracket
const CHORD = { above: 9, height: 20 };
const DEGREE = { below: 8, height: 12 };
const ROW = { below: 9, height: 24, tick: 8, radius: 10 };
const BETWEEN = 16;
// A TAB: between two strings, above the first one below a staff, half a number's height, where its notes may start.
const TAB = { line: 14, above: 20, half: 6.5, from: 20, target: 24, margin: 17 };
const BAR_LINE = { thin: 1, thick: 3, apart: 3 };

/** Settled when the signs of music can be drawn. */
export const ready = new FontFace(FAMILY, 'url("data:font/woff2;base64,@music@")').load().then((face) => document.fonts.add(face));

/**
 * Draws a line into a figure, in the place of what was there.
 * @param {HTMLElement} figure @param {Spec} spec @param {number} width in pixels
 */
export function draw(figure, spec, width) {
  figure.replaceChildren();
  const context = new SVGContext(figure);
  // It would lay an unseen rectangle over every note.
  context.pointerRect = () => context;
  const { svg } = context;
  for (const name of ["fill", "stroke"]) svg.setAttribute(name, "currentColor");
  svg.removeAttribute("pointer-events");

  const bars = spec.bars.map((bar) => prepared(bar, svg));
  const notes = bars.flatMap((bar) => bar.notes);
  notes.forEach((one, index) => (one.isTied = Boolean(one.facts.tied || notes[index - 1]?.facts.tied)));
  // Only the first system has the meter.
  const starts = [0, 1].map((first) => spec.tab_only ? TAB.from : headed(new Stave(0, 0, 0, { leftBar: false }), spec, first).getNoteStartX());
  /** @param {number} first */
  const startOf = (first) => starts[first && 1] ?? 0;
  const units = Math.max(width / SCALE, narrowest(bars, startOf));
  let y = 0;
  for (const system of systems(bars, startOf, units)) {
    y = drawSystem(context, spec, bars, system, y) + BETWEEN;
  }
  const height = Math.max(0, y - BETWEEN);
  svg.setAttribute("viewBox", `0 0 ${units} ${height}`);
  svg.setAttribute("width", String(width));
  svg.setAttribute("height", String((height * width) / units));
}

/** The notes of a bar with their beams, tuplets and words, and the room that they need. @param {Bar} bar @param {SVGSVGElement} svg */
function prepared(bar, svg) {
  /** @type {Drawn[]} */
  const notes = bar.notes.map((facts) => {
    const degree = facts.degree ? text(svg, `degree ${facts.role?.replaceAll(" ", "-")}`, facts.degree) : undefined;
    const fret = facts.fret === undefined ? undefined : text(svg, "fret", facts.back ? `(${facts.fret})` : String(facts.fret));
    return { facts, note: staveNote(facts), x: 0, degree, fret, isTied: false };
  });
  const made = notes.map(({ note }) => note);
  const beams = bar.beams.map(([first, last]) => new Beam(made.slice(first, last + 1), true));
  const tuplets = bar.tuplets.map(([first, last, actual, normal]) => {
    const members = notes.slice(first, last + 1);
    const bracketed = !beams.some((beam) => members.every(({ note }) => beam.getNotes().includes(note)));
    const location = !bracketed && members[0]?.note.getStemDirection() === -1 ? Tuplet.LOCATION_BOTTOM : Tuplet.LOCATION_TOP;
    return new ClearTuplet(members, { numNotes: actual, notesOccupied: normal, bracketed, location, ratioed: false });
  });
  // A tuplet has moved its rests towards its notes; on one voice's staff they stay in the middle.
  for (const { facts, note } of notes) if (note.isRest()) note.setKeyLine(0, facts.value === "whole" ? 4 : 3);
  const voice = new Voice().setStrict(false).addTickables(made);
  new Formatter().joinVoices([voice]).format([voice]);
  const items = notes.map(({ facts, note, degree, fret }) => {
    const { modLeftPx, notePx, modRightPx } = note.getMetrics();
    const label = Math.max(degree ? Math.max(degree.getComputedTextLength(), 2 * ROW.radius) : 0, fret?.getComputedTextLength() ?? 0);
    return { left: modLeftPx, right: notePx + modRightPx, head: note.getGlyphWidth(), label, length: facts.length };
  });
  const symbols = bar.chords.map((chord) => text(svg, "chord", chord.text));
  const chords = bar.chords.map(({ note, share }, index) => ({ note, share, width: symbols[index]?.getComputedTextLength() ?? 0 }));
  return { notes, beams, tuplets, items, symbols, chords };
}

/** @param {Note} facts */
function staveNote({ value, dots = 0, step, sign, courtesy }) {
  const duration = DURATIONS[/** @type {keyof typeof DURATIONS} */ (value)];
  const isRest = step === undefined;
  const letter = isRest ? "r" : "cdefgab"[(((step + 2) % 7) + 7) % 7];
  const octave = isRest ? 4 : 4 + Math.floor((step + 2) / 7);
  const note = new StaveNote({ keys: [`${letter}/${octave}`], duration: duration + (isRest ? "r" : ""), dots, autoStem: true });
  for (let dot = 0; dot < dots; dot++) Dot.buildAndAttach([note], { all: true });
  if (sign) {
    const accidental = new Accidental(sign);
    note.addModifier(courtesy ? accidental.setAsCautionary() : accidental, 0);
  }
  return note;
}

/** What stands at the begin of a system. @param {Stave} stave @param {Spec} spec @param {number} first its first bar */
function headed(stave, { octave, key, meter }, first) {
  stave.addClef("treble").addKeySignature(KEYS[key + 7] ?? "C");
  const glyph = CLEFS[/** @type {keyof typeof CLEFS} */ (octave)];
  if (glyph) stave.getModifiers(undefined, "Clef")[0]?.setText(glyph);
  return first ? stave : stave.addTimeSignature(meter.join("/"));
}

/**
 * @param {SVGContext} context @param {Spec} spec @param {ReturnType<typeof prepared>[]} bars
 * @param {import("./spacing.js").System} system @param {number} top
 * @returns {number} where it ends
 */
function drawSystem(context, spec, bars, { first, last, bars: placed }, top) {
  const group = context.openGroup("system");
  const here = bars.slice(first, last);
  let x = 0;
  for (const [index, { notes }] of here.entries()) {
    const { at, end } = placed[index] ?? { at: [], end: x };
    if (spec.tab_only) {
      for (const [place, one] of notes.entries()) one.x = at[place] ?? 0;
      x = end;
      continue;
    }
    const stave = new Stave(x, 0, end - x, { leftBar: false, spaceAboveStaffLn: 0 });
    if (!index) headed(stave, spec, first);
    if (first + index === bars.length - 1) stave.setEndBarType(Barline.type.END);
    stave.setDefaultLedgerLineStyle({ strokeStyle: "currentColor", lineWidth: 1.4 });
    stave.setContext(context).drawWithStyle();
    for (const [place, one] of notes.entries()) {
      one.x = at[place] ?? 0;
      if (one.facts.bar) one.x = (Math.max(x, stave.getNoteStartX()) + end - one.note.getGlyphWidth()) / 2;
      one.note.setStave(stave).setContext(context);
      one.note.getTickContext()?.setX(one.x - stave.getNoteStartX());
    }
    x = end;
  }
  for (const { notes, beams, tuplets } of spec.tab_only ? [] : here) {
    for (const { facts, note } of notes) {
      const mark = context.openGroup("note");
      if (facts.index !== undefined) mark.setAttribute("data-index", String(facts.index));
      note.drawWithStyle();
      context.closeGroup();
    }
    for (const one of [...beams, ...tuplets]) one.setContext(context).drawWithStyle();
  }
  if (!spec.tab_only) drawTies(context, bars, first, last);
  context.closeGroup();

  const reach = spec.tab_only ? [] : here.flatMap(({ notes, tuplets }) => [...notes.map(reachOf), ...tuplets.map(reachOfTuplet)]);
  const above = Math.min(spec.tab_only ? -TAB.half : 0, ...reach.map(({ above }) => above)) - CHORD.above;
  let low = spec.tab_only ? 0 : Math.max(STAFF, ...reach.map(({ below }) => below));
  if (spec.strings) {
    const ends = { bars: placed.map(({ end }) => end), isLast: last === bars.length };
    low = drawTab(group, spec, here.flatMap(({ notes }) => notes), ends, spec.tab_only ? 0 : low + TAB.above) + TAB.half;
  }
  const below = low + DEGREE.below + DEGREE.height;
  const symbols = here.flatMap(({ symbols }, index) =>
    symbols.map((symbol, place) => put(group, symbol, placed[index]?.symbols[place] ?? 0, above)),
  );
  const degrees = here.flatMap(({ notes }) =>
    notes.flatMap(({ note, x, degree }) => (degree ? put(group, degree, x + note.getGlyphWidth() / 2, below) : [])),
  );
  const ends = degrees.length ? below : spec.strings ? low : 0;
  const bottom = drawBrackets(group, spec.brackets, here.flatMap(({ notes }) => notes), x, ends + ROW.below);
  const upper = Math.min(spec.tab_only ? above : -CLEF.above, symbols.length ? above - CHORD.height : 0, ...reach.map(({ above }) => above));
  group.setAttribute("transform", `translate(0 ${top - upper})`);
  return top - upper + Math.max(spec.tab_only ? 0 : CLEF.below, ends + DEGREE.below, bottom, ...reach.map(({ below }) => below));
}

/**
 * The strings below the staff, its bar lines drawn on through them, and where each note is played; what can be tapped
 * has a target as wide as its neighbours allow.
 * @param {Element} group @param {Spec} spec @param {Drawn[]} notes of the system @param {{bars: number[], isLast: boolean}} ends its bar lines
 * @param {number} top
 * @returns {number} where its last string is
 */
function drawTab(group, { strings = 0, tapped, tab_only: isAlone }, notes, { bars, isLast }, top) {
  const bottom = top + (strings - 1) * TAB.line;
  const end = bars.at(-1) ?? 0;
  const tab = add(group, "g", { class: "tab" });
  const lines = Array.from({ length: strings }, (_, string) => `M0 ${top + string * TAB.line}H${end}`);
  add(tab, "path", { class: "strings", d: lines.join("") });
  const from = isAlone ? top : 0;
  add(tab, "rect", { x: 0, y: from, width: BAR_LINE.thin, height: bottom - from });
  const above = [...group.querySelectorAll(".vf-stavebarline rect")].map((rect) => ["x", "width"].map((name) => Number(rect.getAttribute(name))));
  const alone = bars.map((x) => [x - BAR_LINE.thin, BAR_LINE.thin]);
  if (isLast) alone.splice(-1, 1, [end - BAR_LINE.thick - BAR_LINE.apart - BAR_LINE.thin, BAR_LINE.thin], [end - BAR_LINE.thick, BAR_LINE.thick]);
  for (const [x = 0, width = 0] of isAlone ? alone : above) {
    add(tab, "rect", { x, y: isAlone ? top : STAFF, width, height: bottom - (isAlone ? top : STAFF) });
  }
  const letter = (bottom - top) / 4;
  for (const [row, sign] of ["T", "A", "B"].entries()) put(tab, text(tab, "tab-sign", sign), 9, top + (row + 1) * letter + 4);

  const middles = notes.map(({ x, note }) => x + note.getGlyphWidth() / 2);
  for (const [place, { facts, fret }] of notes.entries()) {
    const x = middles[place] ?? 0;
    if (!fret || facts.index === undefined || facts.string === undefined) continue;
    const y = top + (facts.string - 1) * TAB.line;
    const mark = add(tab, "g", { class: `place-at${facts.held ? " held" : ""}${facts.index === tapped ? " tapped" : ""}`, "data-index": facts.index });
    if (facts.name) {
      const reaches = { role: "button", tabindex: facts.index === (tapped ?? 0) ? 0 : -1, "data-press": `place ${facts.index}`, "aria-label": facts.name };
      for (const [name, value] of Object.entries(reaches)) mark.setAttribute(name, String(value));
      const left = Math.max(0, x - TAB.target, (x + (middles[place - 1] ?? -Infinity)) / 2);
      const right = Math.min(end, x + TAB.target, (x + (middles[place + 1] ?? Infinity)) / 2);
      add(mark, "rect", { class: "target", x: left, y: top - TAB.margin, width: right - left, height: bottom - top + 2 * TAB.margin });
    }
    if (facts.held || facts.index === tapped) {
      const half = fret.getComputedTextLength() / 2 + 3;
      add(mark, "rect", { class: "frame", x: x - half, y: y - TAB.half - 1.5, width: 2 * half, height: 2 * TAB.half + 3, rx: 3 });
    }
    put(mark, fret, x, y + 5);
  }
  return bottom;
}

/** How far a note and its stem reach up and down. @param {Drawn} drawn */
function reachOf({ facts, note, isTied }) {
  const [y = 0] = note.getYs();
  const ends = [y - (facts.sign ? SIGN : HEAD), y + (facts.sign ? SIGN - 3 : HEAD)];
  if (note.hasStem() && !note.isRest()) ends.push(...Object.values(note.getStemExtents()));
  if (isTied) ends.push(y - TIE, y + TIE);
  return { above: Math.min(...ends), below: Math.max(...ends) };
}

/** A tuplet whose figure keeps clear of its notes' signs. */
class ClearTuplet extends Tuplet {
  /** @param {Drawn[]} members @param {import("vexflow/core").TupletOptions} options */
  constructor(members, options) {
    super(members.map(({ note }) => note), options);
    this.members = members;
  }

  getYPosition() {
    const [y, reach] = [super.getYPosition(), this.members.map(reachOf)];
    if (this.options.location === Tuplet.LOCATION_BOTTOM) return Math.max(y, ...reach.map(({ below }) => below + FIGURE));
    return Math.min(y, ...reach.map(({ above }) => above - FIGURE));
  }
}

/** @param {Tuplet} tuplet */
const reachOfTuplet = (tuplet) => ({ above: tuplet.getYPosition() - 13, below: tuplet.getYPosition() + 16 });

/** The ties of a system's notes; one that crosses into another system is drawn as two halves. @param {SVGContext} context @param {ReturnType<typeof prepared>[]} bars @param {number} first @param {number} last */
function drawTies(context, bars, first, last) {
  const all = bars.flatMap(({ notes }, bar) => notes.map((one) => ({ ...one, isHere: first <= bar && bar < last })));
  for (const [index, one] of all.entries()) {
    const next = all[index + 1];
    if (!one.facts.tied || !next || !(one.isHere || next.isHere)) continue;
    const ends = { firstNote: one.isHere ? one.note : undefined, lastNote: next.isHere ? next.note : undefined };
    new StaveTie({ ...ends, firstIndexes: [0], lastIndexes: [0] }).setContext(context).drawWithStyle();
  }
}

/**
 * A bracket below each device of the notes, with its number in a circle; one that goes on in another system is open
 * at that end.
 * @param {Element} group @param {Bracket[]} brackets @param {Drawn[]} notes @param {number} end of the system @param {number} top
 * @returns {number} where the last row ends
 */
function drawBrackets(group, brackets, notes, end, top) {
  const sounding = notes.filter(({ facts }) => facts.index !== undefined);
  const here = brackets.flatMap((bracket) => {
    const within = sounding.filter(({ facts: { index = -1 } }) => bracket.first <= index && index <= bracket.last);
    return within.length ? [{ ...bracket, within }] : [];
  });
  const rows = [...new Set(here.map(({ row }) => row))].sort((one, other) => one - other);
  for (const { first, last, number, name, row, within } of here) {
    const y = top + rows.indexOf(row) * ROW.height + ROW.radius;
    const [begin, final] = [within[0], within.at(-1)];
    if (!begin || !final) continue;
    const opens = begin.facts.index === first && begin.facts.degree !== undefined;
    const closes = final.facts.index === last && !final.facts.tied;
    const from = opens ? begin.x : begin.x - BETWEEN;
    const to = closes ? final.x + final.note.getGlyphWidth() : end;
    const mark = add(group, "g", { class: "bracket", "data-number": number });
    add(mark, "title").textContent = name;
    add(mark, "path", { d: `M${from} ${y}${opens ? `v-${ROW.tick}v${ROW.tick}` : ""}H${to}${closes ? `v-${ROW.tick}` : ""}` });
    const middle = (from + to) / 2;
    add(mark, "circle", { cx: middle, cy: y, r: ROW.radius });
    add(mark, "text", { x: middle, y: y + 4.5 }).textContent = String(number);
  }
  return top + rows.length * ROW.height;
}

/** @param {Element} parent @param {string} name @param {Record<string, string | number>} [attributes] */
function add(parent, name, attributes = {}) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [attribute, value] of Object.entries(attributes)) element.setAttribute(attribute, String(value));
  parent.append(element);
  return element;
}

/** Words whose place is not known yet. @param {Element} parent @param {string} kind @param {string} words */
function text(parent, kind, words) {
  const element = /** @type {SVGTextElement} */ (add(parent, "text", { class: kind }));
  element.textContent = words;
  return element;
}

/** @param {Element} parent @param {SVGTextElement} element @param {number} x @param {number} y */
function put(parent, element, x, y) {
  element.setAttribute("x", String(x));
  element.setAttribute("y", String(y));
  parent.append(element);
  return element;
}
