"""What each pickup really gets: the airflow of a shop, computed.

Standard library only, no I/O, no clock. Describe the shop with the frozen parts of
`model` (ducts as a tree, pickups, fan, separator, filter, discharge), compile it
once with `Network`, `solve` it for any set of open gates, and ask `advice`, `whatif`,
`speed`, `diagnosis` and `worksheet` what the result means.

Conventions, all of them:

- SI throughout: m, m2, m3/s, m/s, Pa, W, s, kg/m3, degrees Celsius. A resistance is
  in Pa per (m3/s)^2, or per m3/s for a filter. Handbook units occur only inside the
  equations that are published in them.
- Pressures are gauge, relative to the room: negative from the pickup to the fan.
  Total pressure is static plus velocity pressure. The room is at 0, still air. What
  is called `suction` is a static pressure with its sign turned.
- A loss is a fall of total pressure. Coefficients refer to the velocity pressure of
  the duct that carries the fitting: a hood's to the first pipe behind it (`Fh`, so
  its static suction is `1 + Fh`; taking up speed costs static, not total pressure),
  a branch entry's to the branch, a gate's to the pipe it stands in, the exit's to the
  last duct.
- Junctions (`Junction.STATIC`, the default): what meets has one static pressure. The
  main then starts at that pressure less what its velocity pressure exceeds the mean
  of the incoming ones by flow. Where the main is slower, or a pipe widens, static
  pressure comes back by the balance of momentum (Borda-Carnot), so that each stream
  loses the velocity pressure of its change of velocity: a single branch into a wide
  main loses less than all of its own. `System.regain` can be set to a share instead;
  0 is the worksheet's habit of counting none, which is too much for a widening. A slow
  stream may gain total pressure from a fast one at a junction: that step of a
  breakdown is negative. `Junction.TOTAL` instead lets streams share one total
  pressure, the rule of general pipe network codes; no mixing loss, full regain.
- Opening a gate never lowers the collector's flow where streams share the total
  pressure. With the static balance that holds as long as the air has lost half a
  velocity pressure on its way to each junction, which any hood and a few diameters
  of duct see to. Below that a fast stream would pump a slow one, and does. Likewise
  a narrower duct never gets more flow, unless it was wider than what feeds it and
  wasted the velocity that came in.
- One density, that of the room: from the pressure at the shop's altitude and its own
  temperature, not the standard atmosphere's (which is colder higher up). The air in
  a duct at 3 kPa suction is 3 % thinner; that is not followed from duct to duct.
- Flows are volumes at that density, so mass and volume balance alike.
- Fan curves hold at their own density and speed and are carried over by the fan laws;
  see `fan` for static and total curves. Of several crossings with the system the one
  with the largest flow counts.
- Friction is Darcy-Weisbach with Colebrook-White at each pipe's own Reynolds number.

What is from memory or common practice rather than read is said where it stands:
`machines` (required flows), `fittings` (branch entries, ports, slide gates, the open
gate's allowance). Those are defaults for an owner to change.
"""

from .advice import (
    AirflowLimit,
    Assessment,
    DuctResult,
    PickupResult,
    alone,
    assess,
    assess_all,
    assess_machines,
    open_pickups,
    pairs,
    transit_time,
)
from .air import Air
from .breakdown import LossStep, StepKind, loss_breakdown, loss_shares
from .calibration import (
    Calibration,
    CalibrationFactors,
    Compared,
    Sample,
    calibrate,
    calibrated,
    flow_by_hood_suction,
    flow_by_velocity,
)
from .causes import AirflowFinding, PressureReading
from .diagnosis import CALIBRATED, CAUSES, TOLERANCE, Diagnosis, diagnose
from .errors import AirflowError
from .fan import Fan
from .fittings import ELBOW_SOURCES, HOODS, INLETS, HoodEntry
from .friction import MATERIALS, Material
from .gate import SEALS, Seal, SlideGate, leak_area
from .hose import HOSES, HoseState, hose
from .machines import MACHINES, MATERIALS_CARRIED, Carried, DustSource, required_flow
from .model import (
    Discharge,
    Duct,
    DuctProblem,
    DuctSystem,
    Filter,
    Junction,
    Pickup,
    Separator,
    problems,
)
from .network import InvalidSystem, Network
from .pipe import Elbow, Pipe
from .ports import PortLimit, port_limit
from .relief import BleedGates, bleed_gates
from .solution import Solution
from .solver import solve
from .speed import Reason, SpeedAdvice, lowest_speed
from .suspects import Check, CheckKind, Suspect
from .verdict import MARGIN, Judge, Verdict, ratio_of, verdict, worst
from .whatif import Change, ChangeKind, Gain, PipeSort, changes_for, what_if
from .worksheet import Sheet, SheetLine, SheetResult, design

__all__ = [
    "CALIBRATED",
    "CAUSES",
    "ELBOW_SOURCES",
    "HOODS",
    "HOSES",
    "INLETS",
    "MACHINES",
    "MARGIN",
    "MATERIALS",
    "MATERIALS_CARRIED",
    "SEALS",
    "TOLERANCE",
    "Air",
    "AirflowError",
    "AirflowFinding",
    "AirflowLimit",
    "Assessment",
    "BleedGates",
    "Calibration",
    "CalibrationFactors",
    "Carried",
    "Change",
    "ChangeKind",
    "Check",
    "CheckKind",
    "Compared",
    "Diagnosis",
    "Discharge",
    "Duct",
    "DuctProblem",
    "DuctResult",
    "DuctSystem",
    "DustSource",
    "Elbow",
    "Fan",
    "Filter",
    "Gain",
    "HoodEntry",
    "HoseState",
    "InvalidSystem",
    "Judge",
    "Junction",
    "LossStep",
    "Material",
    "Network",
    "Pickup",
    "PickupResult",
    "Pipe",
    "PipeSort",
    "PortLimit",
    "PressureReading",
    "Reason",
    "Sample",
    "Seal",
    "Separator",
    "Sheet",
    "SheetLine",
    "SheetResult",
    "SlideGate",
    "Solution",
    "SpeedAdvice",
    "StepKind",
    "Suspect",
    "Verdict",
    "alone",
    "assess",
    "assess_all",
    "assess_machines",
    "bleed_gates",
    "calibrate",
    "calibrated",
    "changes_for",
    "design",
    "diagnose",
    "flow_by_hood_suction",
    "flow_by_velocity",
    "hose",
    "leak_area",
    "loss_breakdown",
    "loss_shares",
    "lowest_speed",
    "open_pickups",
    "pairs",
    "port_limit",
    "problems",
    "ratio_of",
    "required_flow",
    "solve",
    "transit_time",
    "verdict",
    "what_if",
    "worst",
]
