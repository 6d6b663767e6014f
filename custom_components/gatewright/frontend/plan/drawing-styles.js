/** The style of a drawing. Strokes are in its own unit (cm); constant sizes are in `--px`. */
export const DRAWING_STYLES = `
.grid { stroke: color-mix(in srgb, var(--ink) 8%, var(--ground)); stroke-width: calc(1px * var(--px)); fill: none; }
.grid.bold { stroke: color-mix(in srgb, var(--ink) 24%, var(--ground)); }
.room { fill: none; stroke: var(--ink); stroke-width: 8; stroke-linejoin: miter; }
.items .box { fill: var(--ground); stroke: var(--off); stroke-width: calc(2px * var(--px)); }
.items .planned .box { stroke-dasharray: calc(6px * var(--px)) calc(4px * var(--px)); }
.items .front { stroke: var(--off); stroke-width: calc(3px * var(--px)); }
.items .wheel { fill: none; stroke: var(--off); stroke-width: calc(2px * var(--px)); }
.items .blades path { fill: var(--off); }
.items .running .box { fill: color-mix(in srgb, var(--air) 22%, var(--ground)); stroke: var(--air); stroke-width: calc(3px * var(--px)); }
.plan text { font-size: calc(13px * var(--px)); text-anchor: middle; fill: var(--ink); paint-order: stroke; stroke: var(--ground); stroke-width: calc(4px * var(--px)); stroke-linejoin: round; pointer-events: none; }
.names .name { font-weight: 600; transform: translateY(calc(1px * (var(--low) + 15 * var(--px)))); }
.names [data-side="above"] .name { transform: translateY(calc(-1px * (var(--low) + 3 * var(--px)))); }
.names :is([data-side="left"], [data-side="right"]) .name { text-anchor: start; transform: translate(calc(1px * (var(--half) + 5 * var(--px))), calc(4px * var(--px))); }
.names [data-side="left"] .name { text-anchor: end; transform: translate(calc(-1px * (var(--half) + 5 * var(--px))), calc(4px * var(--px))); }
.names :not([data-side="below"]) > .figure { transform: translateY(calc(1px * (var(--low) + 15 * var(--px)))); }
.names [data-side="below"] > .figure { transform: translateY(calc(1px * (var(--low) + 31 * var(--px)))); }
.halo { fill: none; stroke: transparent; }
.selected > .halo, .selected .turned > .halo { stroke: var(--ask); }
.items .halo { stroke-width: calc(3px * var(--px)); }
.gates .halo { stroke-width: calc(3px * var(--px)); }
.ducts .halo { stroke-width: calc(var(--wide) * 1px + 8px * var(--px)); stroke-linejoin: round; stroke-linecap: round; }
.ducts .selected .halo { stroke: color-mix(in srgb, var(--ask) 55%, transparent); }
.ducts .pipe { fill: none; stroke: var(--pipe); stroke-width: max(calc(var(--wide) * 1px), calc(5px * var(--px))); stroke-linejoin: round; }
.ducts .hose .pipe { stroke-dasharray: 4 3; }
.ducts .loose .pipe { stroke-dasharray: 14 8; }
.ducts .wrong .pipe { stroke: color-mix(in srgb, var(--bad) 55%, var(--ground)); }
.ducts .air .stream { stroke-width: max(calc(var(--wide) * .2px), calc(2px * var(--px))); }
.ducts .air path { fill: none; stroke-linejoin: round; stroke-width: max(calc(var(--wide) * .5px), calc(3px * var(--px))); }
.ducts .flow[data-tone="off"] { stroke: color-mix(in srgb, var(--air) 45%, var(--ground)); }
.ducts .flow[data-tone="good"] { stroke: var(--good); }
.ducts .flow[data-tone="weak"] { stroke: var(--wait); stroke-dasharray: calc(14px * var(--px)) calc(4px * var(--px)) calc(3px * var(--px)) calc(4px * var(--px)); }
.ducts .flow[data-tone="bad"] { stroke: var(--bad); stroke-dasharray: calc(5px * var(--px)) calc(4px * var(--px)); }
.ducts .stream { stroke: var(--ground); stroke-linecap: round; stroke-dasharray: calc(3px * var(--px)) calc(13px * var(--px)); opacity: .85; animation: stream var(--pace, 1s) steps(8) infinite; }
@keyframes stream { from { stroke-dashoffset: calc(16px * var(--px)); } to { stroke-dashoffset: 0; } }
@media (prefers-reduced-motion: reduce) { .ducts .stream { display: none; } }
.ducts .proposal { stroke: var(--ask); stroke-dasharray: calc(10px * var(--px)) calc(5px * var(--px)); }
.drop circle { fill: var(--ground); stroke: var(--off); stroke-width: calc(2px * var(--px)); }
.drop path { fill: none; stroke: var(--off); stroke-width: calc(2px * var(--px)); stroke-linecap: round; }
.flange { stroke: var(--ink); stroke-width: calc(2.5px * var(--px)); fill: none; }
.plate { stroke: var(--ink); stroke-width: calc(3px * var(--px)); fill: none; transition: transform .35s; }
.gates .figure { transform: translateY(calc(1px * var(--half) + 14px * var(--px))); font-weight: 600; }
.gate.moving .plate { stroke: var(--wait); }
.gate[data-tone="bad"] .figure { fill: var(--bad); }
.hoses { fill: none; stroke: var(--pipe); stroke-width: max(4px, calc(2.5px * var(--px))); stroke-dasharray: max(7px, calc(4px * var(--px))) max(5px, calc(3px * var(--px))); }
.gate.open .plate { stroke: var(--air); }
.gate.planned .flange { stroke-dasharray: calc(3px * var(--px)) calc(2px * var(--px)); }
.badge { transform: translate(calc(12px * var(--px)), calc(-12px * var(--px))) scale(calc(.75 * var(--px))); }
.names .badge { transform: translateY(calc(-1px * var(--low))) scale(calc(var(--px) * var(--badge, 1))); }
.names .crowded .name { display: none; }
.badge .shape { fill: none; stroke: none; }
.badge .sign { fill: none; stroke: var(--ground); stroke-width: 2.4; stroke-linecap: round; stroke-linejoin: round; }
.badge[data-tone="good"] .shape { fill: var(--good); }
.badge[data-tone="weak"] .shape { fill: var(--ground); stroke: var(--wait); stroke-width: 2.4; }
.badge[data-tone="weak"] .sign { stroke: var(--wait); }
.badge[data-tone="bad"] .shape { fill: var(--bad); }
.badge:is([data-tone="wait"], [data-tone="ask"]) .shape { fill: var(--tone); }
.plan .label { font-size: calc(12px * var(--px)); font-weight: 500; }
.plan .label.side { text-anchor: start; dominant-baseline: middle; }
.plan .label[data-tone="marginal"] { fill: var(--wait); font-weight: 700; }
.plan .label[data-tone="too_little"] { fill: var(--bad); font-weight: 700; }
.plan .label[data-tone="proposal"], .plan .label[data-tone="sketch"] { fill: var(--ask); font-weight: 700; }
.plan .label.above { transform: translateY(calc(-16px * var(--px))); }
@media (forced-colors: active) {
  .ducts .pipe, .items .box, .flange, .plate { stroke: CanvasText; }
  .ducts .flow[data-tone] { stroke: Highlight; }
}
`;
