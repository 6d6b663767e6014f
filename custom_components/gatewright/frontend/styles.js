/** The style that all cards share: Home Assistant's theme, tones, tiles, alarms. */

const sheets = new Map();

/** Return a style sheet that every card of its kind shares. */
export function sheet(text) {
  let made = sheets.get(text);
  if (!made) {
    made = new CSSStyleSheet();
    made.replaceSync(text);
    sheets.set(text, made);
  }
  return made;
}

// Tones are mixed with the text color: the theme's own are made for areas. As thin strokes they're too pale on a
// light background and too dark on a dark one.
export const BASE = `
:host {
  --ink: var(--primary-text-color, #1f2328);
  --dim: var(--secondary-text-color, #5c6670);
  --ground: var(--ha-card-background, var(--card-background-color, #fff));
  --good: color-mix(in srgb, var(--success-color, #43a047) 68%, var(--ink));
  --wait: color-mix(in srgb, var(--warning-color, #ffa600) 62%, var(--ink));
  --bad: color-mix(in srgb, var(--error-color, #db4437) 82%, var(--ink));
  --ask: color-mix(in srgb, var(--info-color, #039be5) 68%, var(--ink));
  --off: color-mix(in srgb, var(--ink) 55%, var(--ground));
  --air: var(--ask);
  --pipe: color-mix(in srgb, var(--ink) 28%, var(--ground));
  --line: color-mix(in srgb, var(--ink) 14%, var(--ground));
  display: block;
  color: var(--ink);
}
* { box-sizing: border-box; }
[hidden] { display: none !important; }
ha-card { overflow: hidden; height: 100%; padding: 14px; display: flow-root; }
h2, h3, p, ul { margin: 0; padding: 0; }
ul { list-style: none; }
.unseen {
  position: absolute; width: 1px; height: 1px; overflow: hidden;
  clip-path: inset(50%); white-space: nowrap;
}
button { font: inherit; color: inherit; }
button:focus-visible, dialog:focus-visible { outline: 3px solid var(--ask); outline-offset: 2px; }
.title { font-size: 1rem; font-weight: 500; color: var(--dim); margin-bottom: 6px; }
[data-tone="good"] { --tone: var(--good); }
[data-tone="wait"] { --tone: var(--wait); }
[data-tone="weak"] { --tone: var(--wait); }
[data-tone="bad"] { --tone: var(--bad); }
[data-tone="ask"] { --tone: var(--ask); }
[data-tone="off"] { --tone: var(--off); }
.glyph { width: 24px; height: 24px; flex: none; overflow: visible; }
.glyph .body { fill: var(--tone); }
.glyph .mark { fill: none; stroke: var(--ground); stroke-width: 2.6; stroke-linecap: round; stroke-linejoin: round; }
.glyph[data-tone="off"] .body { fill: none; stroke: var(--tone); stroke-width: 2.4; }
.glyph[data-tone="weak"] .body { fill: none; stroke: var(--tone); stroke-width: 2.4; stroke-linejoin: round; }
.glyph[data-tone="weak"] .mark { stroke: var(--tone); }
.headline { display: flex; flex-direction: column; gap: 2px; margin-bottom: 10px; }
.headline p { display: flex; gap: 10px; align-items: center; font-size: 1rem; line-height: 1.3; }
.headline p:first-child { font-size: 1.3rem; font-weight: 600; }
.headline p:not(:first-child) .glyph { width: 18px; height: 18px; margin-inline: 3px; }
.modes { display: flex; flex-wrap: wrap; gap: 6px; }
.modes:not(:empty) { margin-bottom: 10px; }
.chip {
  display: inline-flex; align-items: center; gap: 6px; padding: 3px 10px 3px 6px;
  border: 1.5px solid var(--tone); border-radius: 999px; font-size: .85rem;
}
.chip .glyph { width: 16px; height: 16px; }
.tile {
  display: flex; align-items: center; gap: 10px; text-align: start; margin: 0; padding: 4px 10px;
  min-width: 0; border-radius: 10px; border: 1.5px solid var(--line); color: var(--ink);
  background: var(--ground);
}
.tile:not([data-tone="off"]) {
  border-color: var(--tone); background: color-mix(in srgb, var(--tone) 12%, var(--ground));
}
.tile[data-tone="bad"] { border-width: 3px; padding: 2.5px 8.5px; }
.tile .words { display: flex; flex-direction: column; min-width: 0; flex: 1; line-height: 1.25; }
.tile .name { font-weight: 600; overflow: hidden; text-overflow: ellipsis; white-space: nowrap; }
.tile .state { font-size: .875rem; overflow: hidden; text-overflow: ellipsis; white-space: nowrap; font-variant-numeric: tabular-nums; }
.tile[data-tone="off"] .state { color: var(--dim); }
button.tile { cursor: pointer; -webkit-tap-highlight-color: transparent; touch-action: manipulation; }
button.tile:hover { box-shadow: inset 0 0 0 100px color-mix(in srgb, var(--ink) 5%, transparent); }
button.tile:active { box-shadow: inset 0 0 0 100px color-mix(in srgb, var(--ink) 11%, transparent); }
button.tile { background-image: linear-gradient(color-mix(in srgb, var(--ask) 30%, transparent) 0 0); background-size: 0 100%; background-repeat: no-repeat; -webkit-user-select: none; user-select: none; }
button.tile.holding { background-size: 100% 100%; transition: background-size var(--held) linear; }
[dir="rtl"] button.tile { background-position: right; }
button.tile[aria-pressed="true"] { border-style: double; border-width: 5px; padding: 0 6px; }
.note {
  display: flex; gap: 10px; align-items: center; padding: 8px 10px; margin-bottom: 10px;
  border-inline-start: 4px solid var(--tone); font-size: .95rem;
  background: color-mix(in srgb, var(--tone) 10%, var(--ground));
}
.note button {
  margin-inline-start: auto; min-height: 44px; padding: 6px 12px; border-radius: 8px; cursor: pointer;
  border: 1.5px solid var(--ink); background: none; white-space: nowrap;
}
.stale { opacity: .55; }
.alarms { display: grid; gap: 8px; }
.alarms:not(:empty) { margin-bottom: 12px; }
.alarm {
  display: flex; gap: 10px; padding: 8px 10px; border-radius: 10px; border: 3px solid var(--tone);
  background: color-mix(in srgb, var(--tone) 10%, var(--ground));
}
.alarm h3 { font-size: 1rem; font-weight: 600; line-height: 1.3; }
.alarm p { font-size: .9rem; line-height: 1.35; }
.alarm .since { white-space: nowrap; }
@media (prefers-reduced-motion: reduce) {
  *, *::before, *::after { animation: none !important; transition: none !important; }
}
@media (forced-colors: active) {
  .glyph .body { fill: CanvasText; }
  .glyph .mark { stroke: Canvas; }
}
`;
