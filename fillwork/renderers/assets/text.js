// All words of the page in one place, ready to be translated.

const plural = (n, one, many) => `${n} ${n === 1 ? one : many}`;
const HUES = [[20, "red"], [45, "orange"], [70, "yellow"], [165, "green"], [200, "turquoise"], [260, "blue"], [310, "violet"], [345, "pink"], [361, "red"]];

/** What a maker would call a colour. */
function colourWord(hex) {
  const [r, g, b] = [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255);
  const [most, least] = [Math.max(r, g, b), Math.min(r, g, b)];
  if (most < 0.2) return "black";
  if (most - least < 0.12) return least > 0.9 ? "white" : most > 0.7 ? "light grey" : "grey";
  const turn = most === r ? (g - b) / (most - least) : most === g ? 2 + (b - r) / (most - least) : 4 + (r - g) / (most - least);
  const hue = (turn * 60 + 360) % 360;
  const word = HUES.find(([end]) => hue < end)[1];
  return most < 0.55 ? `dark ${word}` : least > 0.6 ? `light ${word}` : word;
}

const percent = (share) => share === 0 ? "0 %" : `${(100 * share).toFixed(share < 0.0995 ? 1 : 0)} %`;

const DEFECTS = {
  gap: (size) => `A line stops ${size} short of the next`,
  "loose end": (size) => `A line ends alone, ${size} long`,
  overshoot: (size) => `A line runs ${size} past its crossing`,
  bridge: (size) => `A line of ${size} parts no regions`,
  doubled: (size) => `${size} of line is drawn twice`,
  sliver: (size) => `Two lines lie only ${size} apart`,
  "breaks symmetry": (size) => `A region of about ${size} differs from the other repeats`,
};
const SEVERAL = {
  gap: (n, size) => `${n} lines stop ${size} short of the next`,
  "loose end": (n, size) => `${n} lines end alone, ${size} long`,
  overshoot: (n, size) => `${n} lines run ${size} past their crossing`,
  bridge: (n, size) => `${n} lines of ${size} part no regions`,
  doubled: (n, size) => `${n} stretches of ${size} are drawn twice`,
  sliver: (n, size) => `${n} pairs of lines lie only ${size} apart`,
  "breaks symmetry": (n, size) => `${n} regions of about ${size} differ from the other repeats`,
};
const DONE = {
  closed: "Closed",
  trimmed: "Cut off there",
  merged: "Taken once",
  removed: "Taken as one line",
  left: "Drawn as it is",
};
const ALL_DONE = { removed: "Each pair taken as one line", left: "Drawn as they are" };

export const text = {
  headings: {
    drawing: "Drawing",
    regions: "Regions",
    colours: "Colours",
    colourways: "Colourways",
    finish: "Finish",
  },
  parts: "Parts of this page",
  percent,

  // messages
  working: "working",
  cancel: "Cancel",
  cancelled: "Cancelled; all is as it was.",
  stopped: "Cancelled; the drawing is in the list, to go on with another time.",
  gone: "fillwork does not answer: it was closed",
  goneMend: "start it again and open the address that it prints; what was saved is there",
  again: "fillwork was started again",
  againMend: "go on in the window that it opened, or open the address that it printed",
  unsaved: (n) =>
    n === 1
      ? "The last touch is not saved yet: it waits here and is sent when the sheet is opened again."
      : `The last ${n} touches are not saved yet: they wait here and are sent when the sheet is opened again.`,
  sent: (n) => (n === 1 ? "A touch that had waited is saved now." : `${n} touches that had waited are saved now.`),
  unread: "this file cannot be read any more, or is a folder",
  unreadMend: "choose the file once more",
  failed: "fillwork could not answer",
  done: {
    solve: "The rest is chosen again around what you set.",
    undo: "Undone.",
    redo: "Done again.",
    release: "Let go; its colour stays until you choose the rest again.",
    repair: "Done: the regions are found anew, the paints stay; Undo brings the old lines back.",
    change: "Done and saved.",
    suggest: "Here are some that differ clearly.",
    take: "Taken up; Undo brings the one before back.",
    pages: "The sheets are laid out.",
    files: "The files are made.",
    "open-plan": "The plan is taken up; Undo brings the one before back.",
    "on-hand": "The schedule mixes from these paints now.",
  },
  toMend: (mend) => `To mend it: ${mend}.`,
  painted: (letter, swatch) => `kind ${letter} takes ${swatch}`,

  // first
  welcome:
    "Line work in, colours out: every region found, those alike by the pattern’s symmetry matched, and sheets to paint from.",
  dropHere: "Drop a drawing or a photo anywhere on this page",
  orChoose: "or choose one: SVG, PDF, DXF, a scan or a photograph",
  orTry: "Or try one of these",
  linesOf: (file) => `${file}: its lines`,

  // in hand
  nothingHeld: "No paint in hand: touch a region to see its kind",
  putDown: "Put it down",
  giveKind: (letter, swatch) => `Give kind ${letter} ${swatch}`,
  touchedNow: (names, count, reach) =>
    `Now ${names.map((name) => name ?? "bare").join(", ")}. Give ${reach} (${plural(count, "region", "regions")}) another paint:`,
  closeCard: "Close",
  nextOfKind: "Next of this kind",

  // drawing
  another: "Another drawing",
  chooseFile: "Choose a drawing or a photo",
  orDrop: "or drop it anywhere on this page",
  oneByOneOnly: "One drawing at a time: drop them one by one.",
  demos: "Or one of the demo's drawings:",
  goOn: "Go on where you stopped",
  when: (seconds) => new Date(seconds * 1000).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" }),
  sightOf: (file) => `${file}: arrow keys move it, + and − zoom, 0 fits it, Shift and arrow keys go from region to region, Enter touches one`,
  laying: "One cell over a panel",
  layingHint: "The drawing may be one repeat, the smallest part of a pattern, or a framed panel: it is laid over a panel of any size.",
  over: "Width and height of the panel",
  goesOn: "The cell goes on by",
  ways: {
    "": "shifts",
    "drop 1/2": "shifts, each next column half down",
    "brick 1/2": "shifts, each next row half along",
    mirrors: "mirrors in its sides",
    turns: "turns",
    C: "turns about a middle, as a rosette",
    D: "mirrors and turns about a middle",
    border: "running round the panel as a border",
  },
  sectors: "Turns in the whole rosette",
  noSectors: "Say how many turns make the whole rosette: a sector of 45° has 8; one that is mirrored at its sides, half as many.",
  guide: "Lines that bound the cell, and are left out",
  noGuide: "none: the outline of the drawing",
  roundIt: "Border round it",
  borders: {
    "": "none",
    own: "the border that the drawing has, by its own repeat",
    keep: "the border it has now",
    file: "a strip from another file",
    width: "plain, of this width",
    rest: "plain, what whole repeats leave",
  },
  strip: "Drawing of the border’s strip",
  stripHint: "one repeat of it, or several",
  noStrip: "Choose the drawing of the border’s strip first.",
  borderWidth: "Width of the border",
  layOther: "Another panel, cell or border",
  layIt: "Lay it",
  layNot: "Take the drawing as it is",
  asLaid: "How it was laid",
  noSize: (words) => `“${words}” is no size: write width × height, such as 600 × 900 mm or 60 × 90 cm`,
  dragHint:
    "Drag the pattern under the frame; near a good place it goes there. Cut figures are grey, pieces under 5 mm black. " +
    "Arrow keys move it by 1 mm, Enter lays it.",
  frame: "The panel: drag the pattern, or move it by arrow keys and lay it with Enter",
  places: "Good places, best first",
  placeIt: "Place the pattern",
  placeName: (number, middle, smallest) =>
    `${number}  ${middle || text.byCorner}` + (smallest === null ? "" : `, smallest piece ${+smallest.toPrecision(3)} mm`),
  lies: (place, cut, poor) =>
    (place ? `Place ${place.number}: ${place.middle ? `${place.middle} in the middle` : text.byCorner}. ` : "") +
    (cut ? `${plural(cut, "figure is", "figures are")} cut` + (poor === null ? "." : `, ${poor} to under 5 mm.`) : "No figure is cut."),
  byCorner: "set by the panel’s corner",
  give: "The size may give, %",
  giveHint: "so that repeats come out even",
  atScale: (scale, size) =>
    ` (${scale > 1 ? `1 : ${+scale.toPrecision(4)}` : `${+(1 / scale).toPrecision(4)} : 1`}, ${size} in truth)`,
  found: (file, size, regions, kinds) =>
    `${file}, ${size}: ${plural(regions, "region", "regions")} of ${plural(kinds, "kind", "kinds")}.`,
  noRegions:
    "No line closes a region yet. The rings on the drawing show the open ends: join them there, or below.",
  zones: (numbers, role) =>
    [numbers.length > 1 ? `Zones ${numbers.join(", ")}` : `Zone ${numbers[0]}`, role]
      .filter(Boolean)
      .join(", "),
  zoneRoles: (n, role) => (n > 1 ? `The ${n} ${role}s` : `The ${role}`),
  whichSymmetry: "The symmetry is in doubt: choose by pictures",
  whichSymmetryOf: (numbers, role) =>
    `${text.zones(numbers, role)}: the symmetry is in doubt, choose by pictures`,
  symmetryNamed: (group) => (group === "none" ? "none: like shapes match" : group.replace(":", " ")),
  stateSymmetry: (group) => `state the symmetry: ${group.replace(":", " ")}`,
  likeliest: "the likeliest",
  partsOf: (n) => `How its ${n} parts repeat`,
  scaleUnknown: "The file states no physical size, so sizes are a guess until you give the true width.",
  trueWidth: "True width of the whole page, margins included",
  trueWidthHint: "such as 1200 mm, 120 cm or 1.2 m; areas, paint and sheets follow",
  noNumber: (words, { min, max, step }) =>
    `${words}: write a ${step === "1" ? "whole " : ""}number ${max ? `from ${min} to ${max}` : `of ${min} or more`}, or none`,
  noLength: (words) => `“${words}” is no length: write one such as 1200 mm, 120 cm or 1.2 m`,
  showPlace: "Show",
  showPlaceOf: (number) => `Show place ${number} in the drawing`,
  defects: (n) => plural(n, "place to look at", "places to look at"),
  repair: { close: "Close this gap", cut: "Cut the overhang", drop: "Leave the whole line out" },
  repairAll: { close: "Close all", cut: "Cut all overhangs", drop: "Leave all whole lines out" },
  oneByOne: "One by one",
  sizeOf: (size) => `${size} mm`,
  showNext: (at, all) => `Show the next (${at} of ${all})`,
  defectGroup: (type, n, [least, most], done) => {
    const size = least === most ? `${most} mm` : `${least} to ${most} mm`;
    const what = DEFECTS[type] ? (n === 1 ? DEFECTS[type](size) : SEVERAL[type](n, size)) : `${n} × ${type}, ${size}`;
    return `${what}. ${(n > 1 && ALL_DONE[done]) || (DONE[done] ?? done)}.`;
  },
  mending: "How far ends are joined",
  mended: (size, closed, all) =>
    all ? `Up to ${size} mm: ${closed} of ${plural(all, "gap is", "gaps are")} closed` : `Up to ${size} mm`,
  more: (n) => `Show the other ${n}`,
  lines: "Which lines are the final ones",
  linesHint: "Untick what is construction. A line under the pointer shows red on the drawing.",
  lineGroup: ({ layer, colour, width, dash, count }) => {
    const what = [dash ? "dashed" : null, colour ? colourWord(colour) : null, count === 1 ? "line" : "lines"];
    return [
      `${count} ${what.filter(Boolean).join(" ")}`,
      width === null ? null : `${Number(width.toPrecision(2))} mm wide`,
      layer === null ? null : `layer “${layer}”`,
    ]
      .filter(Boolean)
      .join(", ");
  },
  otherPen: (colour) => `${colourWord(colour)} lines on the sheet, not the pen's`,
  isConstruction: "Are these construction lines?",
  leaveOut: "Leave them out",
  belongs: "They belong to the drawing",
  notes: (n) => plural(n, "note", "notes"),

  // regions
  fitView: "Fit",
  closer: "Closer",
  farther: "Farther",
  regionsHint: "What is shown on the drawing, and what counts as alike. The kinds stand under Colours.",
  weaving: "Strapwork and weaving",
  bands: "Strapwork",
  bandsFound: { auto: "found in the lines", no: "none: bands are regions like others" },
  bandsHint: "Where double lines are bands, each band is one paint from end to end.",
  bandWidth: "Weave plain lines into bands, mm wide",
  bandWidthHint: "empty: lines stay as they are",
  showNumbers: "Numbers of the paints on the regions",
  showRepeat: "One repeat, with centres and mirrors",
  showDefects: "Places to look at",
  kindCount: (count, share) => `${count} · ${percent(share)}`,
  caption: (letter, name, count, swatches) => `${letter}  ${name}, ${count}, ${swatches.join(" and ")}`,
  paintKind: (letter, name, now, chosen) =>
    `Kind ${letter}, ${name}, now ${now}: ${chosen === null ? "choose a paint for it" : `give it ${chosen}`}`,
  rename: "Rename",
  renameKind: (letter) => `Rename kind ${letter}`,
  newName: (letter) => `New name of kind ${letter}`,
  keepName: "Keep",
  howMatched: "How regions are matched",
  match: "What must match",
  matches: {
    all: "all that the symmetry carries onto each other",
    turns: "turned and shifted copies; mirror images apart",
    shifts: "shifted copies only",
    none: "nothing: each region by itself",
    family: "like shapes, whatever the symmetry",
    figure: "the parts of one star or flower",
  },
  alike: "Like shapes may differ by (%)",
  alikeHint: "How far their outlines lie apart at most, of the root of the area: 3 joins what a steady hand draws alike.",
  symmetry: "Symmetry",
  symmetryAuto: "as found in the lines",
  symmetryNone: "none",
  edge: "The page's edge",
  edges: {
    auto: "closes regions where lines run off it",
    close: "closes regions",
    open: "closes nothing",
  },

  // a picture of a sheet
  photo: "The photo, with the corners of the sheet",
  linesOver: "The sheet laid flat, with the lines found on it",
  corner: (n) => `Corner ${n} of the sheet; arrow keys move it`,
  cornersHint: "Drag each corner onto a corner of the sheet.",
  takeCorners: "Trace with these corners",
  findCorners: "Find the corners",
  toLines: "Back to the lines",
  toCorners: "Photo and corners",
  sheetSize: "Size of the sheet",
  sizeAuto: "as the picture suggests",
  doubts: (n, sure) =>
    `${plural(n, "place", "places")} in doubt${sure ? ", none that changes a region" : ""}: compare the rings with the sheet.`,
  noDoubt: "Every line lies on its ink; nothing is in doubt.",
  doubt: (what, size) => `${what.charAt(0).toUpperCase()}${what.slice(1)}${size ? `, ${size.toFixed(1)} mm` : ""}`,
  answers: { close: "Close", leave: "Leave", line: "This is a line", none: "This is none" },
  doubtsAnswered: "doubts answered",
  onToRegions: "On to Regions",
  onWith: (n) => `Take ${plural(n, "answer", "answers")} and go on to Regions`,
  open: (n) => `${plural(n, "place is", "places are")} not answered; regions there may be wrong.`,
  photoUnder: "Photo under the lines",
  showPen: "Show the pen’s lines",
  showPencil: "Show pencil and guide lines",
  regular: "Even out lines that should be alike",
  myPen: "Touch my pen on the sheet",
  touchNow: "Now touch a line of the final pen",
  aim: "The sheet: touch a line of the final pen, or bring the cross to it by arrow keys and press Enter",
  penAuto: "Find the pen again",
  traced: "traced again",

  // colours
  swatches: "Paints",
  kinds: "Kinds",
  reach: "A touch reaches",
  scopes: {
    kind: "the whole kind",
    turns: "its turned copies",
    shifts: "its shifted copies",
    only: "this region or band alone",
  },
  scopesOfAll: {
    kind: "these kinds",
    turns: "their turned copies",
    shifts: "their shifted copies",
    only: "these regions or bands alone",
  },
  reaches: { kind: "whole kind", turns: "turned copies", shifts: "shifted copies", only: "one region or band" },
  reachOf: (scope, n, strands) =>
    scope === "only" && strands && n > 1
      ? `this strand (${n} pieces)`
      : `${text.reaches[scope]} (${plural(n, "region", "regions")})`,
  solve: "Choose the rest again",
  undo: "Undo",
  redo: "Redo",
  touching: "Touching",
  contrast: (value, pair, goal) =>
    value >= goal
      ? "All neighbours are easy to tell apart."
      : `${value >= 0.5 * goal ? "Close in colour where they touch" : "Hard to tell apart where they touch"}: ${pair}.`,
  contrastMeasured: (value, goal, best, proven, set) => {
    const within = set ? " with what you set" : "";
    const most = best === null ? "" : proven ? `; ${best.toFixed(1)} is the most there is${within}` : `; not more than ${best.toFixed(1)} is possible${within}`;
    return `Least difference ΔE00 ${value.toFixed(1)}, wanted ${goal}${most}`;
  },
  alikeWithin: (letters, all) =>
    `${letters.length === all && all > 1 ? "Everywhere regions" : "Regions"} of one kind and colour lie side by side` +
    `${letters.length > 6 || letters.length === all ? "" : ` (${letters.join(", ")})`} and read as one piece.`,
  partThem: "Let them alternate",
  noContact: "No two regions touch.",
  showWeakest: "Mark the pair most alike on the drawing",
  mostAlike: "most alike",
  contacts: (n) => `Contrast where kinds touch (${n})`,
  goal: "Contrast wanted, ΔE00",
  goalHint: "20 is easy to tell apart",
  pin: (letter, reach, swatch, n) => `${letter}, ${reach}: ${swatch} (${plural(n, "region", "regions")})`,
  pins: (n) => `What you set (${n})`,
  release: "Let go",
  view: "Seen as",
  views: {
    normal: "full colour vision",
    protan: "without red cones",
    deutan: "without green cones, the most common",
    tritan: "without blue cones",
    grey: "grey: values only",
  },
  seenAs: (words) => `seen ${words}`,
  palette: "Palette",
  paletteNow: (title) => `Palette: ${title}`,
  taste: "Character",
  tasteNow: (words) => `${words.charAt(0).toUpperCase()}${words.slice(1)}.`,
  tastes: { balanced: "Balanced", quiet: "Quiet", festive: "Festive", "two-tone": "Two-tone", dark: "Dark" },
  wishes: "Other wishes",
  most: "At most so many paints",
  mostHint: "empty: as many as serve",
  ties: "These belong together",
  tiesHint: "Touch a region, tick “Several kinds”, touch others, then choose “Always alike”.",
  tied: (letters) => `${letters.join(", ")} are always alike`,
  several: "Several kinds",
  together: "Always alike",
  priceSample: "8.50 for 250 mL",
  priceOf: (name) => `Price of ${name}`,
  noPrice: (words) => `“${words}” is no price: write one such as 8.50 for 250 mL`,
  ownPalette: (name) => `${name} (your own)`,
  editPalette: "Change the palette",
  colourOf: (name) => `Colour of ${name}`,
  nameOf: (name) => `Name of ${name}`,
  remove: "Remove",
  removeSwatch: (name) => `Remove ${name}`,
  addSwatch: "Add a paint",
  newSwatch: (n) => `new paint ${n}`,
  savePalette: "Save as a palette file",
  fromPicture: "Draw a palette from a picture",
  fromPictureHint: "a photograph of a tile or a textile, say",

  // colourways
  colourwaysHint: "See it otherwise before any paint is committed. What you set holds in all of them; where a palette lacks the paint, its nearest stands for it.",
  suggestHere: "Suggest some in this palette",
  suggestAll: "Try the other palettes",
  takeUp: "Take up",
  keep: "Keep",
  kept: "Kept",
  isKept: (words) => `${words} is kept, below.`,
  nothingKept: "Keep some to see two of them side by side.",
  compare: "side by side",
  letGo: "Let go",
  backToDrawing: "Back to the drawing",
  measures: ({ changed, smallest }, first) =>
    [
      first ? null : `${percent(changed)} unlike those before`,
      smallest === null ? null : `least contrast ${smallest.toFixed(0)}`,
    ]
      .filter(Boolean)
      .join(", "),
  counterchange: "Counterchange",
  counterchangeHint: "Let regions of one kind alternate, so that colours change places under the symmetry.",
  howMany: "Colours that change places",
  colours: (k) => `${k} colours`,
  findChoices: "Show the ways",
  noCounterchange: "No counterchange",
  choiceOfAll: (number, letters) => `Whole drawing, way ${number}: ${letters.join(", ")}`,
  choiceOf: (letter, number) => `Kind ${letter}, way ${number}`,
  noChoices: "No kind of this drawing can alternate with so many colours beside what you set.",

  // finish
  sheetSettings: "sheets",
  title: "Title on the sheets",
  titleSample: "as the file is named",
  pupils: "Pupils",
  workshop: "In the workshop",
  under: "Under everything",
  underNone: "nothing: each paint lies on the primer",
  support: "What is painted on",
  supportUsual: "as usual for the paint",
  primer: "Primer",
  varnish: "Varnish",
  usualOrNone: "as usual; or “none”",
  tape: "Edges are taped, in rounds",
  bandsPainted: "Paint the bands",
  bandsWhen: { "": "in their place among the paints", first: "before all else", last: "after all else" },
  pace: "How fast you paint",
  paceArea: "Square metres filled in an hour",
  paceEdge: "Metres of edge cut in an hour",
  paceHint: "Fill in both; left empty, usual paces are taken.",
  onHand: "Paints on hand",
  onHandHint: "a palette file of what you have: the schedule then mixes from it, and counts its prices",
  onHandNow: (names) => `On hand: ${names.slice(0, 6).join(", ")}${names.length > 6 ? ` and ${names.length - 6} more` : ""}.`,
  patch: "Mend a part",
  patchHint: "Sheets and schedule are then for that part alone.",
  patchReach: "Reach of the place, mm on the panel",
  patchTouch: "Touch the place",
  patchNext: "Now touch the middle of the place on the drawing; Escape gives it up.",
  patchNone: "All of it again",
  patchKind: "Or every piece of one kind",
  patchNoKind: "no kind",
  patchCircle: (reach) => `a round place, ${reach} mm about its middle`,
  patchNow: (words) => `Sheets and schedule are for a repair alone: ${words}.`,
  pricesHint: "Prices stand with the paints, under Colours, Change the palette.",
  paper: "Paper",
  paperDrawing: "as large as the drawing",
  turned: (name) => `${name}, turned as fits`,
  landscape: (name) => `${name} on its long side`,
  whichSheets: "Sheets to print",
  sheets: {
    numbered: "Numbered: a number in every region",
    blank: "Blank outlines",
    coloured: "Coloured: the answer",
    steps: "Steps, in painting order",
    repeat: "One repeat, enlarged",
    masks: "Masks: outlines to cut",
    card: "Card: paint the swatches first",
    model: "Half-done model: one figure coloured",
    trials: "Small trials, several on a page",
    pounce: "One repeat or sector at true size, to prick",
    line: "Both edges of the painted line",
    schedule: "Schedule",
  },
  fit: "Size on paper",
  fits: {
    auto: "true, or a little less to fit",
    page: "as large as one page",
    true: "true, on joined pages",
  },
  mirror: "Mirrored, for tracing",
  hatch: "Hatched, for black copies",
  teach: "For a class: a set for each pupil, and one for the teacher",
  fitToo: "as large as one page each; choose true size above for true scale",
  copies: "Copies",
  coats: "Coats",
  coatsHint: "left empty, each paint takes what its opacity asks for",
  spare: "Spare, %",
  showSheets: "Show the sheets",
  seeLarge: "See the schedule",
  moreSettings: "Copies, coats and the workshop",
  pageLarge: "See this page large",
  pageFirst: "First",
  pageLast: "Last",
  pageBack: "Page before",
  pageForth: "Next page",
  pageOf: (at, all, title) => `Page ${at} of ${all}: ${title}`,
  schedule: "Schedule",
  asText: "What to buy, in what order to paint, as plain text",
  files: "Files",
  filesHint: "The coloured drawing, the sheets, the schedule, the plan, and a page to hand on.",
  makeFiles: "Make the files",
  allFiles: "Download all as one zip",
  size: (bytes) => (bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`),
  plan: "Plan",
  planHint: "The plan is saved by itself. As a file it works on the command line too.",
  savePlan: "Download the plan",
  openPlan: "Open a plan",
  handOnHint: "Repaint it as you like. Give the plan back to have sheets and schedule made from it.",
  print: "Print",
  printKey: (code, name, share) => `${code}  ${name}, ${share}`,
};

/** Options of the command line that the page has a control for: its part and words, and those of its values. */
const CONTROLS = {
  match: ["regions", "match", "matches"],
  symmetry: ["regions", "symmetry"],
  "close-gaps": ["drawing", "mending"],
  "real-width": ["drawing", "trueWidth"],
  lines: ["drawing", "lines"],
  leave: ["drawing", "lines"],
  over: ["drawing", "over"],
  band: ["regions", "bandWidth"],
  goal: ["colours", "goal"],
  counterchange: ["colourways", "counterchange"],
  fit: ["finish", "fit", "fits"],
  paper: ["finish", "paper"],
  coats: ["finish", "coats"],
  spare: ["finish", "spare"],
  copies: ["finish", "copies"],
};

/** A remedy in the words of this page; what names an option that the page lacks helps nobody here. */
export function speakHere(remedy) {
  let lacks = false;
  const words = (remedy ?? "").replace(/--([a-z-]+)(?:[ =]("[^"]*"|[\w%.:#]+=[\w%.:#,]+|[\w%.:#]+))?/g, (_, option, value) => {
    const [part, label, values] = CONTROLS[option] ?? [];
    if (!part) lacks = true;
    const named = text[values]?.[value] ?? (/^(\d.*|no|apart)$/.test(value) ? value : undefined);
    const after = named ? `: ${named}` : "";
    const whole = named || !value || /["=]/.test(value);
    return part ? `“${text[label]}${after}” under ${text.headings[part]}${whole ? "" : ` ${value}`}` : "";
  });
  return lacks ? "" : words;
}
