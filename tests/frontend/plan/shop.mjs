/** An invented shop: a main along the wall, two machines on it, the collector in the corner. */
export const MACHINES = [
  { id: "m1", name: "Band saw", kind: "band_saw", gates: ["k1"], required_flow: 0.25 },
  { id: "m2", name: "Planer", kind: "planer", gates: ["k2", "k3"], required_flow: null },
];

export const SETTINGS = {
  height: 2.4,
  sizes: [0.08, 0.1, 0.125, 0.16],
  machines: MACHINES,
  name: (item) => (item ? `${item.name ?? item.bound ?? "Main"} duct` : "Main"),
  gateName: (item) => `${item.name} gate`,
};

export const kindOf = (item) => MACHINES.find(({ id }) => id === item.bound)?.kind ?? item.kind;

export const shop = () => ({
  format: "gatewright-plan",
  version: 1,
  grid: { step: 0.1 },
  room: { outline: [[0, 0], [9, 0], [9, 6], [0, 6]], height: 2.7 },
  items: [
    { id: "c", type: "collector", x: 0.6, y: 0.6, z: 1.5 },
    { id: "i1", type: "machine", bound: "m1", x: 4, y: 3, z: 1 },
    { id: "i2", type: "machine", bound: "m2", x: 6, y: 3, z: 1 },
  ],
  ducts: [
    {
      id: "d1",
      bound: "b1",
      name: "Main",
      points: [
        { x: 7, y: 0.6, z: 2.4 },
        { x: 0.6, y: 0.6, z: 2.4 },
        { x: 0.6, y: 0.6, z: 1.5 },
      ],
      diameter: 0.16,
      material: "galvanized",
      end: { to: "collector" },
    },
    {
      id: "d2",
      bound: null,
      name: "Band saw branch",
      points: [
        { x: 4, y: 3, z: 1 },
        { x: 4, y: 3, z: 2.4 },
        { x: 4, y: 0.6, z: 2.4 },
      ],
      diameter: 0.125,
      material: "galvanized",
      end: { to: "duct", duct: "d1", wye: 45 },
    },
  ],
  gates: [{ id: "g1", bound: "k1", duct: "d2", mount: "start", at: 0, items: ["i1"], seal: "usual", opening: { hood: "machine_port" } }],
});
