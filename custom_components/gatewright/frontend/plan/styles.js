/** How the editor of the plan looks. */
import { ASK_STYLES } from "../ask.js";
import { DRAWING_STYLES } from "./drawing-styles.js";

export const PLAN_STYLES = `
${ASK_STYLES}
${DRAWING_STYLES}
dialog.wide { max-width: min(560px, 92vw); max-height: 85vh; overflow: auto; }
dialog ul { list-style: disc; padding-inline-start: 20px; margin: 8px 0; line-height: 1.45; }
dialog ul ul { margin: 2px 0; color: var(--dim); font-size: .9rem; }
dialog .answers { flex-wrap: wrap; }
.editor { position: relative; display: flex; flex-direction: column; gap: 8px; height: max(520px, calc(100vh - 96px)); min-width: 0; }
.editor button, .editor select, .editor input[type="text"], .editor summary {
  min-height: 44px; border: 1.5px solid var(--line); border-radius: 10px; background: var(--ground); color: var(--ink); font: inherit;
}
.editor button { padding: 6px 12px; cursor: pointer; touch-action: manipulation; }
.editor button:hover:enabled { background: color-mix(in srgb, var(--ink) 6%, var(--ground)); }
.editor button:disabled { opacity: .45; cursor: default; }
.editor button[aria-pressed="true"] { background: var(--ink); color: var(--ground); border-color: var(--ink); }
.editor :is(select, input, summary):focus-visible, .plan:focus-visible { outline: 3px solid var(--ask); outline-offset: 1px; }
.bar, .bar .tools, .bar .right { display: flex; gap: 6px; align-items: center; flex-wrap: wrap; }
.bar .right { margin-inline-start: auto; }
.bar .tool { display: inline-flex; gap: 6px; align-items: center; min-width: 44px; justify-content: center; }
.icon { width: 22px; height: 22px; fill: none; stroke: currentColor; stroke-width: 2; stroke-linecap: round; stroke-linejoin: round; flex: none; }
.bar .apply { font-weight: 600; border-color: var(--ink); }
.bar .apply:enabled { background: var(--ink); color: var(--ground); }
.bar .apply:hover:enabled { background: color-mix(in srgb, var(--ink) 85%, var(--ground)); }
.bar .status { font-size: .85rem; color: var(--dim); max-width: 15em; text-align: end; }
.bar .status:is([data-status="offline"], [data-status="refused"], [data-status="conflict"]) { color: var(--bad); font-weight: 600; }
.menu { position: relative; }
.menu summary { list-style: none; min-width: 44px; display: grid; place-items: center; cursor: pointer; font-weight: 700; }
.menu summary::-webkit-details-marker { display: none; }
.menu .deeds { position: absolute; inset-inline-end: 0; top: 100%; z-index: 5; display: grid; gap: 4px; padding: 8px; margin: 4px 0 0; width: max-content;
  background: var(--ground); border: 1.5px solid var(--ink); border-radius: 12px; box-shadow: 0 6px 22px rgb(0 0 0 / 25%); }
.menu .deeds button { text-align: start; }
.phone { font-size: .9rem; color: var(--dim); }
.desk { display: grid; grid-template-columns: minmax(0, 1fr) clamp(250px, 30%, 330px); gap: 10px; flex: 1; min-height: 0; }
.stage { position: relative; min-height: 0; min-width: 0; border: 1.5px solid var(--line); border-radius: 12px; overflow: hidden; background: var(--ground); }
.plan { display: block; position: absolute; inset: 0; width: 100%; height: 100%; touch-action: none; user-select: none; -webkit-user-select: none; cursor: default; }
.plan[data-tool="duct"], .plan[data-tool="gate"], .plan[data-tool="room"] { cursor: crosshair; }
.begin { position: absolute; inset-inline: 12px 64px; top: 10px; width: fit-content; max-width: calc(100% - 80px); padding: 6px 12px; border-radius: 10px; font-size: .95rem;
  background: color-mix(in srgb, var(--ask) 14%, var(--ground)); border: 1.5px solid var(--ask); pointer-events: none; }
.zoom { position: absolute; inset-inline-end: 8px; bottom: 8px; display: grid; gap: 6px; }
.bar .zoom { position: static; display: flex; }
.zoom button { width: 44px; padding: 0; display: grid; place-items: center; }
aside { display: flex; flex-direction: column; gap: 10px; min-height: 0; overflow-y: auto; overscroll-behavior: contain; padding: 2px; scrollbar-gutter: stable; }
.tabs { display: flex; gap: 4px; position: sticky; top: -2px; z-index: 2; background: var(--ground); padding-bottom: 4px; }
.tabs button { flex: 1; padding: 6px 4px; font-size: .9rem; }
.tabs button[aria-selected="true"] { background: color-mix(in srgb, var(--ink) 12%, var(--ground)); border-color: var(--ink); font-weight: 600; }
aside section, aside details:not(.points) { margin-bottom: 12px; }
aside h3 { font-size: 1rem; font-weight: 600; margin-bottom: 4px; }
aside h4 { font-size: .9rem; font-weight: 600; margin: 8px 0 2px; }
aside summary { display: flex; align-items: center; padding: 0 12px; cursor: pointer; font-weight: 600; }
.hint { font-size: .85rem; color: var(--dim); margin-bottom: 6px; line-height: 1.35; }
.place, .pieces, .toggles, .alone { display: grid; gap: 4px; }
.place { grid-template-columns: repeat(auto-fill, minmax(120px, 1fr)); margin-bottom: 4px; }
.editor .placeable, .editor .new { width: 100%; height: 100%; text-align: start; cursor: grab; touch-action: pan-y; border-style: dashed; border-color: var(--off); }
.editor .piece { width: 100%; text-align: start; font-size: .875rem; line-height: 1.3; padding: 5px 10px; }
.editor .piece.wrong { border-inline-start: 5px solid var(--bad); }
.ghost { position: absolute; left: 0; top: 0; margin: -18px; padding: 8px 14px; z-index: 9; border-radius: 10px; pointer-events: none; border: 2px solid var(--ask);
  background: var(--ground); font-weight: 600; white-space: nowrap; }
.part { border: 1.5px solid var(--ask); border-radius: 12px; padding: 8px 10px; }
.part .head { display: flex; gap: 8px; align-items: center; justify-content: space-between; }
.part .head h3 { overflow-wrap: anywhere; }
.fields { display: grid; gap: 8px; margin-top: 6px; }
.field { display: grid; grid-template-columns: 1fr minmax(104px, 46%); gap: 8px; align-items: center; font-size: .9rem; }
.field input, .field select { width: 100%; padding: 4px 8px; text-overflow: ellipsis; }
.with-unit { display: flex; }
.fault { color: var(--bad); font-size: .85rem; }
input[aria-invalid] { border-color: var(--bad) !important; border-width: 2.5px !important; }
.offers { display: flex; flex-wrap: wrap; gap: 4px; margin-top: 4px; }
.editor .offers button { padding: 2px 8px; min-width: 44px; font-size: .85rem; font-variant-numeric: tabular-nums; }
.split { display: flex; } .split button { border-start-end-radius: 0; border-end-end-radius: 0; } .editor .split input { width: 84px; padding: 4px 8px; border-start-start-radius: 0; border-end-start-radius: 0; border-inline-start: 0; }
.tick { display: flex; align-items: center; gap: 10px; min-height: 44px; }
.tick input { width: 22px; height: 22px; }
.deeds { display: flex; flex-wrap: wrap; gap: 6px; margin-top: 6px; }
.editor .danger { border-color: var(--bad); color: var(--bad); }
.editor .link { border: 0; padding: 2px 6px; text-align: start; text-decoration: underline; text-underline-offset: 3px; text-decoration-thickness: 1px; background: none; line-height: 1.3; }
.points .point { display: grid; grid-template-columns: 18px 1fr 1fr 1fr 44px; gap: 4px; align-items: center; margin: 4px 0; }
.points .point .field { display: block; }
.points .point.heads { font-size: .8rem; color: var(--dim); }
.points .number { font-size: .8rem; color: var(--dim); }
.problems { display: grid; gap: 2px; font-size: .9rem; line-height: 1.35; }
.problem { display: flex; gap: 6px; align-items: center; }
.problem .mark { flex: none; width: 22px; height: 22px; display: grid; place-items: center; font-weight: 700; font-size: .85rem; border-radius: 50%; border: 2px solid var(--tone); color: var(--tone); }
.problem[data-tone="bad"] .mark { background: var(--tone); color: var(--ground); border-radius: 4px; }
.toggles .tile, .alone .tile { width: 100%; min-height: 48px; padding: 4px 10px; }
.editor .tile[aria-pressed="true"] { background: color-mix(in srgb, var(--tone) 14%, var(--ground)); color: var(--ink); border: 3px solid var(--tone); padding: 2.5px 8.5px; }
.tile .state, .tile .name { white-space: normal; }
.air-panel .deeds { margin: 0 0 8px; }
.now { position: sticky; bottom: -2px; padding: 6px 0; margin-top: 4px; background: var(--ground); border-top: 1.5px solid var(--line); }
.now .verdict::before { content: ""; display: inline-block; width: .7em; height: .7em; margin-inline-end: .5em; border: 2.5px solid var(--tone); border-radius: 50%; }
.now .verdict[data-tone="good"]::before { background: var(--tone); }
.now .verdict[data-tone="bad"]::before { background: var(--tone); border-radius: 0; }
.verdict { font-size: 1.05rem; font-weight: 600; }
.limits { padding-inline-start: 20px; margin: 0; font-size: .9rem; }
.limits li::marker { color: var(--dim); }
.fan-curve { width: 100%; max-width: 320px; display: block; margin: 6px 0; }
.fan-curve path { fill: none; stroke: var(--ink); stroke-width: 1.5; }
.fan-curve .axis { stroke: var(--off); }
.fan-curve .curve { stroke-width: 2.5; stroke: var(--ask); }
.fan-curve .lead { stroke: var(--off); stroke-dasharray: 3 3; }
.fan-curve .point { fill: var(--ink); stroke: var(--ground); stroke-width: 2; }
.fan-curve .surge { fill: color-mix(in srgb, var(--bad) 14%, transparent); }
.fan-curve text { font-size: 10.5px; fill: var(--ink); }
.changes { display: grid; gap: 4px; }
.changes li { display: flex; gap: 8px; align-items: center; justify-content: space-between; font-size: .9rem; }
.size-panel p, .air-panel p { line-height: 1.4; margin-bottom: 6px; }
.handle { fill: var(--ground); stroke: var(--ask); stroke-width: calc(3px * var(--px)); r: calc(9px * var(--px)); }
.sketched { fill: none; stroke: var(--ask); stroke-width: calc(5px * var(--px)); stroke-dasharray: calc(12px * var(--px)) calc(6px * var(--px)); stroke-linecap: round; }
.aim { fill: none; stroke: var(--ask); stroke-width: calc(2.5px * var(--px)); r: calc(7px * var(--px)); }
.aim.joins { fill: color-mix(in srgb, var(--ask) 40%, transparent); r: calc(12px * var(--px)); }
.tall .desk { grid-template: minmax(0, 1.15fr) minmax(0, 1fr) / minmax(0, 1fr); }
.tall :is(.fields, .pieces, .toggles, .alone) { grid-template-columns: repeat(2, minmax(0, 1fr)); align-items: start; column-gap: 14px; }
.tall .fields > :is(details, .deeds, h4) { grid-column: 1 / -1; }
.narrow .plan text { font-size: calc(12px * var(--px)); }
.narrow .plan .label { font-size: calc(11px * var(--px)); }
.narrow .bar .tool span.wide { display: none; }
@media (max-width: 899px) { .bar .tool span { font-size: .85rem; } }
@media (max-width: 650px) {
  .editor { height: auto; }
  .desk { display: flex; flex-direction: column; }
  .stage { height: 48vh; flex: none; }
  aside { overflow: visible; }
}
`;
