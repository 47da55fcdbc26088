"""The notebook, executed against the service: its values are those of the command line, and its plots show them."""

import base64
import io
import json
import os

import hall
import nbformat
from google.protobuf import json_format
from hall import CLIENTS, HallCase
from nbclient import NotebookClient
from nextrung import v1
from PIL import Image
from traitlets.config import Config

NOTEBOOK = CLIENTS / "notebook" / "replay.ipynb"
# A cell of the test's own behind the others: what they came to, and what the last plots of each kind show.
TOLD = """
import json
from google.protobuf import json_format
print(json.dumps({
    "capacity": json_format.MessageToDict(capacity),
    "trend": json_format.MessageToDict(trend),
    "summary": json_format.MessageToDict(summary),
    "rows": [[row.forecaster, row.log_score] for row in rows],
    "trend lines": [[float(y) for y in one.lines[0].get_ydata()] for one in axes.flat[:len(trend.rungs)]],
    "steps": [[[float(x), float(y)] for (x, y) in segment] for one in left.collections[::2] for segment in one.get_segments()],
    "bars": [float(bar.get_height()) for bar in right.patches],
}))
"""


class Notebook(HallCase):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        notebook = nbformat.read(NOTEBOOK, as_version=4)
        notebook.cells.append(nbformat.v4.new_code_cell(TOLD))
        stubs = hall.made() / "python"
        variables = hall.clean() | {"NEXTRUNG_SERVER": cls.hall.url, "PYTHONPATH": f"{stubs}{os.pathsep}{CLIENTS / 'python'}"}
        own = Config({"KernelManager": {"transport": "ipc"}})
        cls.done = NotebookClient(notebook, timeout=300, kernel_name="python3", config=own).execute(env=variables)
        cls.told = json.loads(cls.printed(cls.done.cells[-1]))

    @staticmethod
    def printed(cell) -> str:
        return "".join(output.text for output in cell.get("outputs", ()) if output.output_type == "stream")

    def said(self, *arguments: str) -> dict:
        return hall.nextrung_json(*arguments, server=self.hall.url)

    def same(self, told: dict, said: dict, kind) -> None:
        """Both are the same message."""
        self.assertEqual(json_format.ParseDict(told, kind()), json_format.ParseDict(said, kind()))

    def test_what_is_kept_has_no_outputs(self):
        for cell in nbformat.read(NOTEBOOK, as_version=4).cells:
            self.assertEqual(cell.get("outputs", []), [])
            self.assertIsNone(cell.get("execution_count"))

    def test_capacity_and_trend_are_those_of_the_command_line(self):
        asked = ("capacity", "climbing-hall/wren", "--ladder", "pull", "--date", hall.TODAY)
        self.same(self.told["capacity"], self.said(*asked), v1.EstimateCapacityResponse)
        asked = ("trend", "climbing-hall/wren", "--to", hall.TODAY)
        self.same(self.told["trend"], self.said(*asked), v1.EstimateTrendResponse)
        self.assertGreater(len(self.told["trend"]["rungs"]), 3)

    def test_the_replay_is_that_of_the_command_line(self):
        asked = ("replay", "roster", "climbing-hall", "--no-advice")
        self.same(self.told["summary"], self.said(*asked), v1.ReplaySummary)

    def test_rows_come_to_the_summary(self):
        summary = json_format.ParseDict(self.told["summary"], v1.ReplaySummary())
        for figures in summary.forecasters:
            scores = [score for forecaster, score in self.told["rows"] if forecaster == figures.name]
            self.assertEqual(len(scores), summary.counts.sets_scored)
            self.assertAlmostEqual(sum(scores) / len(scores), figures.log_score, places=8)

    def test_plots_show_the_figures(self):
        trend = json_format.ParseDict(self.told["trend"], v1.EstimateTrendResponse())
        medians = [[point.median_units for point in rung.points] for rung in trend.rungs]
        self.assertEqual(self.told["trend lines"], medians)
        service = json_format.ParseDict(self.told["summary"], v1.ReplaySummary()).forecasters[0]
        self.assertEqual(self.told["bars"], list(map(float, service.rank_counts)))
        steps = [[[getattr(step, "from"), step.came], [step.to, step.came]] for edge in service.edges for step in edge.steps]
        self.assertEqual(self.told["steps"], steps)

    def test_four_pictures_are_drawn(self):
        pictures = [
            Image.open(io.BytesIO(base64.b64decode(output.data["image/png"])))
            for cell in self.done.cells for output in cell.get("outputs", ()) if "image/png" in output.get("data", {})
        ]
        self.assertEqual(len(pictures), 4)
        for picture in pictures:
            colours = picture.convert("RGB").getcolors(1 << 24)
            self.assertTrue(picture.width > 600 and picture.height > 300, picture.size)
            self.assertGreater(len(colours), 50)

    def test_what_can_be_concluded_is_printed(self):
        summary = json_format.ParseDict(self.told["summary"], v1.ReplaySummary())
        self.assertTrue(summary.conclusions)
        text = "\n".join(map(self.printed, self.done.cells))
        for sentence in (*summary.conclusions, summary.manifest.log.sha256):
            self.assertIn(sentence, text)
