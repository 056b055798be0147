"""Makes docs/page.png, the picture of the README: the page of the running service with the demo's model turned.

Usage: python docs/page_picture.py [FILE]
"""

from __future__ import annotations

import io
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image
from playwright.sync_api import expect, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from browser import FLAGS, chromium  # noqa: E402
from serving import ended, running, submitted  # noqa: E402

SIZE = {"width": 1280, "height": 940}
TURNS = "24.6"  # of Mimas: all moons well apart
START = "2026-01-01"


def shot() -> bytes:
    """The page of the demo's best solution after so many turns, as PNG. Raises NotThere without a browser."""
    with TemporaryDirectory() as folder, running(Path(folder) / "jobs") as service, sync_playwright() as playwright:
        with service.client() as client:
            job = submitted(client, (ROOT / "runs" / "configs" / "saturn-hall.toml").read_text(encoding="utf-8"))
            ended(client, job)
            best = client.get(f"/api/jobs/{job}/solutions?limit=1").json()["solutions"][0]
        browser = playwright.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        page = browser.new_page(base_url=service.address, viewport=SIZE, reduced_motion="reduce", color_scheme="light")
        page.goto(f"/jobs/{job}/{best['point']}/{best['rank']}")
        page.get_by_label("Date and time").fill(START)
        page.get_by_role("button", name="Set to this date").click()
        expect(page.locator("#set-at")).to_have_text(f"{START} 00:00 UTC")
        page.get_by_label("Turns of Mimas", exact=True).fill(TURNS)
        page.get_by_role("heading", level=1).click()  # the field lets go of the cursor
        expect(page.locator("#view")).not_to_have_attribute("data-turns", "0")
        taken = page.screenshot()
        browser.close()
        return taken


if __name__ == "__main__":
    # 64 colours are enough for a drawing, and a third of the bytes.
    picture = Image.open(io.BytesIO(shot())).convert("RGB").quantize(64, dither=Image.Dither.NONE)
    picture.save(sys.argv[1] if len(sys.argv) > 1 else ROOT / "docs" / "page.png", optimize=True)
