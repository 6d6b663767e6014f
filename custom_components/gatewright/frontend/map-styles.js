/** How the map looks. */
import { ASK_STYLES } from "./ask.js";

const CHEVRONS =
  "url(\"data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 10'%3E" +
  "%3Cpath d='M5.5 1.6 10 5 5.5 8.4' fill='none' stroke='%23000' stroke-width='2.2' " +
  "stroke-linecap='round' stroke-linejoin='round'/%3E%3C/svg%3E\")";
const CHEVRONS_UP =
  "url(\"data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 10 16'%3E" +
  "%3Cpath d='M1.6 10 5 5.5 8.4 10' fill='none' stroke='%23000' stroke-width='2.2' " +
  "stroke-linecap='round' stroke-linejoin='round'/%3E%3C/svg%3E\")";

export const MAP_STYLES = `
${ASK_STYLES}
.looks { display: flex; gap: 10px; align-items: center; flex-wrap: wrap; justify-content: flex-end; margin-bottom: 8px; }
.looks .stores { margin-inline-end: auto; }
.looks .choice { display: flex; }
.looks button { min-height: 44px; padding: 6px 14px; border: 1.5px solid var(--line); background: none; cursor: pointer; border-radius: 0; font-size: .9rem; }
.looks .choice button:first-child { border-start-start-radius: 10px; border-end-start-radius: 10px; border-inline-end: 0; }
.looks .choice button:last-child { border-start-end-radius: 10px; border-end-end-radius: 10px; }
.looks .choice button[aria-pressed="true"] { background: color-mix(in srgb, var(--ink) 12%, var(--ground)); border-color: var(--ink); font-weight: 600; }
.looks .choice button[aria-pressed="true"] + button { border-inline-start-color: var(--ink); }
.looks .draw { border-radius: 10px; border-color: var(--ask); }
.stage { max-width: 1400px; margin-inline: auto; }
.map { position: relative; margin-inline: auto; max-width: 1100px; contain: layout style; }
.map > * { position: absolute; }
.collector {
  display: flex; align-items: center; gap: 12px; top: 0; padding: 0; border: 0; background: none;
  text-align: start; cursor: pointer; border-radius: 12px; min-width: 0;
}
.fan { width: 60px; height: 60px; flex: none; }
.fan .housing { fill: var(--ground); stroke: var(--tone); stroke-width: 3; }
.fan .blades { fill: var(--tone); transform-origin: 20px 20px; }
.fan.turns .blades { animation: turn 1.1s linear infinite; }
.fan.coasts .blades { animation: turn 3.2s linear infinite; }
@keyframes turn { to { transform: rotate(360deg); } }
.collector .words { display: flex; flex-direction: column; line-height: 1.3; min-width: 0; }
.collector .name { font-weight: 600; font-size: 1.05rem; overflow-wrap: anywhere; }
.collector .state { font-variant-numeric: tabular-nums; }
.stores { display: flex; gap: 12px; font-size: .85rem; color: var(--dim); }
.pipe { background: var(--pipe); border-radius: 5px; overflow: hidden; contain: strict; }
.pipe.open { background: color-mix(in srgb, var(--air) 22%, var(--pipe)); }
.pipe .air { position: absolute; display: none; background: var(--air); will-change: transform; }
.pipe.flows { background: color-mix(in srgb, var(--air) 30%, var(--ground)); }
.pipe.flows .air { display: block; }
.pipe.across .air {
  inset: 0 -16px; -webkit-mask: ${CHEVRONS} var(--shift) 0 / 16px 10px repeat-x;
  mask: ${CHEVRONS} var(--shift) 0 / 16px 10px repeat-x; animation: across var(--pace, .6s) linear infinite;
}
.pipe.up .air {
  inset: -16px 0; -webkit-mask: ${CHEVRONS_UP} 0 var(--shift) / 10px 16px repeat-y;
  mask: ${CHEVRONS_UP} 0 var(--shift) / 10px 16px repeat-y; animation: up var(--pace, .6s) linear infinite;
}
.pipe.leftward { transform: scaleX(-1); }
@keyframes across { to { transform: translateX(16px); } }
@keyframes up { to { transform: translateY(-16px); } }
.pipe.slow::after { content: ""; position: absolute; inset: 0; border: 0 dashed var(--bad); }
.pipe.slow.across::after { border-block-width: 2.5px; }
.pipe.slow.up::after { border-inline-width: 2.5px; }
.figure {
  display: flex; flex-direction: column; align-items: center; width: max-content; pointer-events: none;
  font-size: .75rem; line-height: 1.1; translate: 0 -50%; white-space: nowrap; z-index: 1;
}
.figure > * { padding: 0 3px; border-radius: 4px; font-weight: 500; background: var(--ground); }
.figure.slow > * { color: var(--bad); font-weight: 700; }
.figure.marginal > * { color: var(--wait); font-weight: 600; }
.links { inset: 0; width: 100%; height: 100%; overflow: visible; pointer-events: none; }
.links path { fill: none; stroke: var(--pipe); stroke-width: 5; stroke-linejoin: round; }
.links path.clears { stroke-dasharray: 7 5; }
.links path.flows { stroke: color-mix(in srgb, var(--air) 70%, var(--ground)); }
:host(:dir(rtl)) .links { transform: scaleX(-1); }
.gate {
  width: 56px; height: 54px; margin: -26px 0 0; margin-inline-start: -28px; padding: 0; border: 0;
  background: none; border-radius: 12px; display: flex; flex-direction: column; align-items: center;
  touch-action: manipulation; user-select: none; -webkit-user-select: none;
  -webkit-tap-highlight-color: transparent; -webkit-touch-callout: none;
}
button.gate { cursor: pointer; }
.symbol { width: 36px; height: 40px; margin-top: 6px; overflow: visible; flex: none; }
.symbol .flange { stroke: var(--ink); stroke-width: 3; stroke-linecap: round; }
.symbol .bore { fill: var(--pipe); }
.symbol .plate {
  fill: var(--ink); stroke: var(--ground); stroke-width: 1.2; transition: transform .35s;
  transform-box: fill-box; transform-origin: bottom;
}
.symbol .mark { fill: none; stroke: var(--tone); stroke-width: 2.4; stroke-linecap: round; stroke-linejoin: round; }
.symbol[data-stand="open"] .plate { transform: translateY(-17px) scaleY(.62); fill: var(--ground); stroke: var(--ink); stroke-width: 1.8; }
.symbol[data-stand="opening"] .plate, .symbol[data-stand="shutting"] .plate,
.symbol[data-stand="between"] .plate { transform: translateY(-8.5px); fill: var(--wait); }
.symbol[data-stand="fixed"] .plate { display: none; }
.symbol .badge { fill: var(--bad); stroke: var(--ground); stroke-width: 1.5; }
.symbol:not([data-fault=""]) .mark { stroke: var(--ground); }
.symbol:not([data-fault=""]) .plate { fill: var(--bad); }
.symbol[data-fault="away"] .plate { fill: var(--ground); stroke: var(--bad); stroke-width: 2; stroke-dasharray: 3 2.4; }
.gate.flows .bore { fill: color-mix(in srgb, var(--air) 45%, var(--ground)); }
.gate .word {
  font-size: .75rem; line-height: 1; margin-top: -4px; padding: 1px 3px; border-radius: 4px; white-space: nowrap;
  background: color-mix(in srgb, var(--ground) 82%, transparent);
}
.gate[data-tone="off"] .word { color: var(--dim); }
.gate[data-tone="bad"] .word { font-weight: 700; }
.gate.holding .symbol { transform: scale(1.18); transition: transform var(--held) ease-in; }
.map .tile { padding-block: 0; }
.map .tile .name { line-height: 1.15; }
.map .tile .state { white-space: normal; display: -webkit-box; -webkit-line-clamp: 2; -webkit-box-orient: vertical; line-height: 1.15; }
.map .tile[aria-pressed="true"] { border-width: 4px; padding-inline: 7px; }
.lone { font-size: .9rem; color: var(--dim); translate: 0 -50%; overflow-wrap: anywhere; line-height: 1.2; }
.hint { min-height: 1.3em; margin-top: 6px; font-size: .9rem; color: var(--dim); text-align: center; }
`;
