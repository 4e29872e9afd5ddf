"""Lighthouse's scores of the pages a keeper opens most, as a phone on a slow line would see them.

    python tests/bench/lighthouse_of_pages.py [--runs 3]

Goals: performance at least 95 (History 90), accessibility, best practices and search 100. The
performance is the median of the runs and hangs on what else this machine does. Looked at from
127.0.0.1, because over plain http a name of the house's own can never have 100 in best practices.
Lighthouse is fetched once into a folder under the user's cache; node and npm must be there.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[1]))

from browser.conftest import CHROMIUM, Served
from web.foretelling import foretell
from web.scenario import BOOT, Scene

from hangroom_web.app import create_app

PACKAGES = ("lighthouse@12.2.3", "chrome-launcher@1.2.0")
GOALS = {"accessibility": 100, "best-practices": 100, "seo": 100}
# Path, and the performance that is wanted of it.
PAGES = {
    "Room": ("/", 95),
    "Inspect": ("/inspect", 95),
    "Batch": ("/batches/1", 95),
    "History": ("/rooms/closet/history", 90),
}
ASK = """
import { launch } from 'chrome-launcher';
import lighthouse from 'lighthouse';
const chrome = await launch({
  chromePath: process.env.CHROME, chromeFlags:
    ['--headless=new', '--no-sandbox', '--disable-dev-shm-usage', '--disable-gpu'] });
const found = [];
for (const url of process.argv.slice(2)) {
  const told = await lighthouse(url, { port: chrome.port, logLevel: 'error',
    onlyCategories: ['performance', 'accessibility', 'best-practices', 'seo'] });
  found.push({
    scores: Object.fromEntries(Object.entries(told.lhr.categories)
      .map(([name, one]) => [name, Math.round(100 * one.score)])),
    missed: Object.values(told.lhr.audits)
      .filter((one) => one.score !== null && one.score < 0.9).map((one) => one.id),
    bytes: told.lhr.audits['total-byte-weight'].numericValue ?? 0,
    requests: told.lhr.audits['network-requests'].details?.items?.length ?? 0 });
}
await chrome.kill();
console.log(JSON.stringify(found));
"""


def fetched() -> Path:
    cache = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache")) / "hangroom-lighthouse"
    if not (cache / "node_modules" / "lighthouse").is_dir():
        print("Fetching Lighthouse, about 110 MB ...", file=sys.stderr, flush=True)
        cache.mkdir(parents=True, exist_ok=True)
        command = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(cache)]
        subprocess.run([*command, *PACKAGES], check=True)
    return cache


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3)
    runs = parser.parse_args().runs
    if shutil.which("npm") is None or not CHROMIUM.exists():
        print("npm or Debian's chromium is missing: nothing was measured.", file=sys.stderr)
        return 1
    script = fetched() / "ask.mjs"
    script.write_text(ASK, encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        scene = Scene.household(Path(folder))
        foretell(scene)
        served = Served(create_app(scene.settings, clock=scene.clock, boot_id=BOOT))
        try:
            urls = [served.url(path) for path, _goal in PAGES.values()]
            print(
                f"{len(urls)} pages, {runs} runs, about {9 * len(urls) * runs} s", file=sys.stderr
            )
            done = subprocess.run(
                ["node", str(script), *urls * runs],
                env={**os.environ, "CHROME": str(CHROMIUM)},
                stdout=subprocess.PIPE,
                check=True,
            )
        finally:
            served.stop()
    told = json.loads(done.stdout)
    missed = False
    print(
        f"{'page':10}{'performance':>13}{'a11y':>6}{'best':>6}{'seo':>6}{'bytes':>9}{'requests':>10}"
    )
    for number, (name, (_path, goal)) in enumerate(PAGES.items()):
        each = told[number :: len(PAGES)]
        performance = median(one["scores"]["performance"] for one in each)
        lowest = {key: min(one["scores"][key] for one in each) for key in GOALS}
        met = performance >= goal and all(lowest[key] >= GOALS[key] for key in GOALS)
        missed = missed or not met
        print(
            f"{name:10}{performance:13.0f}"
            + "".join(f"{value:6}" for value in lowest.values())
            + f"{each[0]['bytes']:9.0f}{each[0]['requests']:10}"
            + ("" if met else f"   NOT MET: {', '.join(each[0]['missed'])}")
        )
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
