"""The map at every width, with ducts, and with sixty gates."""

import asyncio
from itertools import pairwise
import json
import re
import time
from typing import Any

from playwright.async_api import CDPSession, WebSocket, expect

from . import shop
from .browser import Window
from .stage import CARDS, Stage, headline, tile
from .test_people import fits

CHECK_TREES = """
async ([url, count]) => {
  const { layOut } = await import(url);
  let seed = 7;
  const random = (below) => (seed = (seed * 48271) % 2147483647) % below;
  const found = [];
  for (let round = 0; round < count; round++) {
    const gates = Array.from({ length: 1 + random(20) }, (_, at) => [`g${at}`, {}]);
    const some = (most) => Array.from({ length: random(most) }, () => `g${random(gates.length)}`);
    const machines = Array.from({ length: random(14) }, (_, at) => [
      `m${at}`, { gates: some(4), ...(random(3) ? {} : { clears: some(3) }) },
    ]);
    const ducts = Array.from({ length: random(12) }, (_, at) => ({
      id: `d${at}`, into: at && random(5) ? `d${random(at)}` : null, gates: [],
    }));
    for (const [id] of gates) if (ducts.length && random(6)) ducts[random(ducts.length)].gates.push(id);
    for (const width of [330, 770, 1100]) {
      const drawn = layOut({ gates, machines, ducts: round % 3 ? ducts : null, width });
      const all = [
        ...drawn.gates.map(({ id, x, y }) => ({ id, left: x - 20, right: x + 20, top: y - 22, bottom: y + 22 })),
        ...drawn.machines.map(({ id, x, y, width, height }) => ({ id, left: x, right: x + width, top: y, bottom: y + height })),
      ];
      const complain = (what) => found.push(`round ${round} at ${width}: ${what}`);
      if (drawn.gates.length !== gates.length) complain("not every gate is drawn once");
      if (new Set(drawn.machines.map(({ id }) => id)).size !== machines.length) complain("a machine is missing");
      if (drawn.machines.length !== machines.length) complain("a machine is drawn twice");
      const links = new Set(drawn.links.map(({ gate, machine }) => `${gate} ${machine}`));
      if (links.size !== drawn.links.length) complain("a link is drawn twice");
      for (const [id, machine] of machines) {
        for (const gate of new Set(machine.gates)) if (!links.delete(`${gate} ${id}`)) complain("a link is missing");
      }
      for (const link of links) {
        const [gate, id] = link.split(" ");
        const those = machines.filter(([, { gates: work, clears = [] }]) => work.includes(gate) || clears.includes(gate));
        if (those.length !== 1 || those[0][0] !== id) complain("a shared clearing gate is linked");
      }
      for (const box of all) {
        if (box.left < -1 || box.right > width + 1) complain(`${box.id} is outside`);
        if (box.bottom > drawn.height) complain(`${box.id} is below the end`);
      }
      all.forEach((box, at) => {
        for (const other of all.slice(at + 1)) {
          const across = Math.min(box.right, other.right) - Math.max(box.left, other.left);
          const down = Math.min(box.bottom, other.bottom) - Math.max(box.top, other.top);
          if (across > 1 && down > 1) complain(`${box.id} overlaps ${other.id}`);
        }
      });
      // From every gate there is a way up to the collector.
      for (const { id } of drawn.gates) {
        const way = drawn.pipes.filter(({ beyond }) => beyond.includes(id));
        if (!way.some(({ flow }) => flow !== "up")) complain(`${id} has no branch`);
        const ups = way.filter(({ flow }) => flow === "up");
        if (!ups.some(({ y }) => y < 80)) complain(`${id} does not reach the collector`);
      }
    }
  }
  return found;
}
"""


async def test_nothing_overlaps_at_any_width(busy: Stage) -> None:
    for width in (360, 800, 1280):
        async with busy.card("map", width=width) as window:
            router = tile(window, "Router table")
            await expect(router).to_have_attribute("data-tone", "bad")
            await fits(window)
            # The window is made narrower, or the tablet is turned.
            await window.page.set_viewport_size(
                {"width": 1160 - width // 2, "height": 900}
            )
            await window.page.wait_for_timeout(300)
            await fits(window)


async def test_any_tree_of_ducts_can_be_drawn(stage: Stage) -> None:
    async with stage.card("map") as window:
        url = await window.page.evaluate(
            "performance.getEntriesByType('resource').map(({ name }) => name)"
            ".find((name) => name.endsWith('/layout.js'))"
        )
        assert await window.page.evaluate(CHECK_TREES, [url, 150]) == []


async def test_ducts_and_figures(busy: Stage) -> None:
    """The computed airflow in the ducts, and a warning where material settles."""
    async with busy.card("map", width=360) as window:
        await expect(tile(window, "Planer")).to_have_attribute("data-tone", "good")
        figures = window.page.locator(".figure")
        for width in (360, 1280):
            await window.page.set_viewport_size({"width": width, "height": 900})
            await window.page.wait_for_timeout(300)
            await fits(window)
            for duct, reported in (
                ("South branch", r"^\d\.\d m/s too slow$"),
                ("Main", r"^\d\d(\.\d)? m/s"),
            ):
                figure = window.page.locator(f'.figure[title="{duct}"]')
                await expect(figure).to_have_text(re.compile(reported))
            assert await window.page.locator(".pipe.slow").count() > 0
        await expect(tile(window, "Planer")).to_contain_text("m³/h")
        await window.page.evaluate(
            "findCard('map').feed._take({ now: 1, upkeep: { bin: 0.6, filter: 0.25 } })"
        )
        stores = window.page.locator(".collector .stores")
        await expect(stores).to_have_text("Bin 60% · Filter 25%")
        # Where nothing turns there is nothing to show.
        await window.page.evaluate(
            "findCard('map').feed._take({ now: 1, system: { turning: false } })"
        )
        await expect(figures).to_have_count(0)


# Some script work on the page, to compare the others with.
YARDSTICK = """
() => {
  let sum = 0;
  for (let number = 0; number < 2e7; number += 1) sum += Math.sqrt(number);
  return sum;
}
"""

# When each frame of the page was drawn, for this many milliseconds.
FRAMES = """
(lasts) => new Promise((resolve) => {
  const times = [];
  const end = performance.now() + lasts;
  const next = (now) => {
    times.push(now);
    now < end ? requestAnimationFrame(next) : resolve(times);
  };
  requestAnimationFrame(next);
})
"""


async def test_a_hall_of_sixty_gates_stays_smooth(
    stage: Stage, record_property: Any
) -> None:
    """Thirty machines start and stop while the page is watched; figures for the docs."""
    client = stage.client
    numbers = [f"{number:02}" for number in range(1, shop.HALL_SIZE + 1, 2)]
    machines = [f"input_boolean.hall_machine_{number}" for number in numbers]
    sizes: list[int] = []
    window: Window
    async with stage.page(None, width=1280) as window:
        window.page.on("websocket", lambda socket: listen(socket, sizes))
        await window.open(f"{CARDS}/hall")
        await expect(window.page.locator(".gate")).to_have_count(shop.HALL_SIZE)
        whole = sizes[0]
        sizes.clear()
        # Processor time of the page, which other work on the machine hardly changes.
        cdp = await window.context.new_cdp_session(window.page)
        await cdp.send("Performance.enable", {"timeDomain": "threadTicks"})
        begun = await worked(cdp)
        await window.page.evaluate(YARDSTICK)
        yardstick = await worked(cdp) - begun
        frames = asyncio.create_task(window.page.evaluate(FRAMES, 5000))
        began = time.monotonic()
        for machine in machines:
            await client.call("input_boolean.turn_on", machine)
        await expect(headline(window)).to_have_text(
            "30 machines are running with dust collection"
        )
        reaction = time.monotonic() - began
        for machine in machines:
            await client.call("input_boolean.turn_off", machine)
        times = await frames
        await expect(headline(window)).to_have_text("Nothing is running")
        work = await worked(cdp) - begun - yardstick
    steps = sorted(after - before for before, after in pairwise(times))
    measured = {
        "frame_median_ms": round(steps[len(steps) // 2], 1),
        "frame_95_ms": round(steps[int(len(steps) * 0.95)], 1),
        "frame_worst_ms": round(steps[-1], 1),
        "yardstick_ms": round(1000 * yardstick, 1),
        "work_of_a_change_in_yardsticks": round(
            work / yardstick / len(machines) / 2, 2
        ),
        "whole_picture_bytes": whole,
        "messages": len(sizes),
        "bytes_per_machine": round(sum(sizes) / len(machines) / 2),
        "largest_message_bytes": max(sizes),
        "until_all_have_air_s": round(reaction, 1),
    }
    for name, value in measured.items():
        record_property(name, value)
    # It was 0.5 on the machine where every frame was in time.
    assert 0.0 < measured["work_of_a_change_in_yardsticks"] < 1.5, measured
    assert measured["bytes_per_machine"] < 1500, measured
    assert measured["largest_message_bytes"] < whole / 4, measured


async def worked(cdp: CDPSession) -> float:
    """Return the processor time of the page's main thread [s]."""
    metrics = (await cdp.send("Performance.getMetrics"))["metrics"]
    found: float = {it["name"]: it["value"] for it in metrics}["TaskDuration"]
    return found


def listen(socket: WebSocket, sizes: list[int]) -> None:
    """Note how large each message of our subscription is."""
    ours: set[int] = set()

    def sent(payload: bytes | str) -> None:
        message = json.loads(payload)
        for part in message if isinstance(message, list) else [message]:
            if part.get("type") == "gatewright/subscribe":
                ours.add(part["id"])

    def received(payload: bytes | str) -> None:
        message = json.loads(payload)
        sizes.extend(
            len(json.dumps(part, separators=(",", ":")))
            for part in (message if isinstance(message, list) else [message])
            if part.get("id") in ours and part.get("type") == "event"
        )

    socket.on("framesent", sent)
    socket.on("framereceived", received)
