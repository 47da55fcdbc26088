"""The page in Chromium: it shows over gRPC-Web what the command line says, records sets, and shows errors by field."""

import json
import re

import hall
from browser import BrowserCase
from google.protobuf import json_format
from hall import DAY
from nextrung import v1
from playwright.sync_api import Page, expect


class OnThePage(BrowserCase):
    def open(self, athlete: str, day: str = DAY, **more) -> Page:
        """The page on a day of an athlete of the demo."""
        page = self.page(**more)
        page.goto(f"{self.origin}/?server={self.hall.url}&athlete=climbing-hall/{athlete}&day={day}")
        page.wait_for_selector("body[data-state=shown], body[data-state=refused]")
        return page

    def prescription(self, athlete: str, day: str = DAY) -> v1.Prescription:
        """What the command line says of the day."""
        asked = ("prescribe", f"climbing-hall/{athlete}", "--date", day, "--dry-run")
        return json_format.ParseDict(hall.nextrung_json(*asked, server=self.hall.url), v1.Prescription())

    def picture(self, page: Page, name: str) -> None:
        """A picture of the whole page beside what was built, for people to look at."""
        page.screenshot(path=hall.made() / "browser" / f"{name}.png", full_page=True)

    def test_the_prescription_is_that_of_the_command_line(self):
        for athlete in ("redstart", "wren", "nuthatch"):
            page, said = self.open(athlete), self.prescription(athlete)
            told = json_format.ParseDict(json.loads(page.locator("#message").text_content()), v1.Prescription())
            told.issue_time.CopyFrom(said.issue_time)
            self.assertEqual(told, said)
            expect(page.locator(".headline")).to_have_text(said.headline)
            for number, item in enumerate(said.items):
                shown = page.locator(".item").nth(number)
                self.assertTrue(item.reasons)
                for reason in item.reasons:
                    expect(shown.locator(".reasons")).to_contain_text(reason.sentence)
                expect(shown.locator(".stop")).to_have_text(item.stop_rule.sentence)
                expect(shown.locator(".dose")).to_contain_text(f"{item.sets} × {item.target_low}")
            self.assertEqual(page.locator(".item").count(), len(said.items))
            self.assertEqual(page.locator(".cautions li").all_text_contents(), list(said.cautions))
            self.assertEqual(page.locator(".held-back li").count(), len(said.hold_backs))
            self.picture(page, athlete)

    def test_figures_read_as_on_the_command_line(self):
        for athlete in ("redstart", "siskin", "goldcrest", "plover", "heron"):
            page = self.open(athlete)
            asked = ("prescribe", f"climbing-hall/{athlete}", "--date", DAY, "--dry-run")
            table = hall.nextrung(*asked, server=self.hall.url)
            rows = re.findall(r"^ +\d+  \w+ +.*?  +([\d.]+) \(([\d.]+) to ([\d.]+)\) +(\S+ %)$", table, re.MULTILINE)
            self.assertEqual(len(rows), page.locator(".item").count())
            self.assertTrue(rows, table)
            for number, (median, low, high, chance) in enumerate(rows):
                text = page.locator(".expected p").nth(number).text_content()
                shown = re.fullmatch(r"could do ([\d.]+) \w+ \(([\d.]+) to ([\d.]+)\) · .*?([<>\d]+ %) · rest .*", text)
                self.assertEqual(shown.groups(), (median, low, high, chance))

    def test_a_set_is_recorded_once(self):
        page = self.open("wren")
        page.fill("#done", "1")
        page.select_option("#stop", "TARGET")
        page.click("#set-form button")
        expect(page.locator("#set-answer")).to_contain_text("Recorded: set 1 of Monday 23 November 2026")
        expect(page.locator("#sets li")).to_have_count(1)
        asked = ("sets", "list", "climbing-hall/wren", "--from", DAY)
        (one,) = hall.nextrung_json(*asked, server=self.hall.url)["sets"]
        item = self.prescription("wren").items[0]
        kept = (one["rung"], one["reps"], one["plannedTarget"], one["stop"], one["purpose"])
        self.assertEqual(kept, (item.rung, 1, item.target_high, "STOP_TARGET", "PURPOSE_ATTEMPT"))

    def test_a_lost_answer_does_not_double_a_set(self):
        page = self.open("swift")
        lost: list[str] = []

        def lose(route) -> None:
            """Lets the request reach the service and loses the first answer."""
            if not lost:
                lost.append(route.fetch().headers.get("content-type", ""))
                route.abort()
            else:
                route.continue_()

        page.route("**/nextrung.v1.SetLogService/RecordSets", lose)
        page.fill("#done", "3")
        page.select_option("#stop", "STRENGTH")
        page.click("#set-form button")
        expect(page.locator("#set-answer")).to_contain_text("Recorded: set 1")
        self.assertEqual(lost, ["application/grpc-web+proto"])
        asked = ("sets", "list", "climbing-hall/swift", "--from", DAY)
        self.assertEqual(len(hall.nextrung_json(*asked, server=self.hall.url)["sets"]), 1)

    def test_how_a_set_ended_is_asked_for_each_time(self):
        page = self.open("goldcrest")
        expect(page.locator("#stop")).to_have_value("UNSPECIFIED")
        page.fill("#done", "1")
        page.click("#set-form button")
        expect(page.locator("#set-answer .notice dt code")).to_have_text(["sets[0].stop"])
        expect(page.locator("#stop")).to_have_attribute("aria-invalid", "true")
        page.select_option("#stop", "OTHER")
        page.click("#set-form button")
        expect(page.locator("#set-answer")).to_contain_text("Recorded: set 1")
        expect(page.locator("#stop")).to_have_value("UNSPECIFIED")

    def test_every_bad_field_is_shown_beside_its_name(self):
        page = self.open("siskin")
        page.fill("#done", "4000")
        page.fill("#pain", "11")
        page.select_option("#stop", "STRENGTH")
        page.click("#set-form button")
        notice = page.locator("#set-answer .notice")
        expect(notice.locator(".code")).to_have_text("INVALID_ARGUMENT · BAD_FIELDS")
        fields = notice.locator("dt code").all_text_contents()
        unit = {v1.UNIT_REPS: "reps", v1.UNIT_HOLD_SECONDS: "hold_seconds", v1.UNIT_LOWERING_SECONDS: "lowering_seconds"}
        first = unit[self.prescription("siskin").items[0].unit]
        self.assertEqual(sorted(fields), sorted([f"sets[0].{first}", "sets[0].pain"]))
        for words in notice.locator("dd").all_text_contents():
            self.assertRegex(words, "found .*; expected ")
        marked = page.locator("#set-form [aria-invalid=true]")
        self.assertEqual(sorted(one.get_attribute("id") for one in marked.all()), ["done", "pain"])
        expect(notice.locator(".request")).to_contain_text("request ")
        self.picture(page, "bad-fields")

    def test_who_is_not_there_is_named(self):
        page = self.open("nobody")
        notice = page.locator("#session .notice")
        expect(notice.locator(".code")).to_have_text("NOT_FOUND · ATHLETE_NOT_FOUND")
        expect(notice.locator(".about")).to_have_text("name: rosters/climbing-hall/athletes/nobody")

    def test_a_page_of_another_origin_is_not_answered(self):
        page = self.page()
        page.goto(f"{self.origin.replace('127.0.0.1', 'localhost')}/?server={self.hall.url}&athlete=climbing-hall/wren&day={DAY}")
        page.wait_for_selector("body[data-state=refused]")
        expect(page.locator("#session")).not_to_contain_text("Train")

    def test_a_small_screen_shows_all_of_it(self):
        page = self.open("redstart", viewport={"width": 390, "height": 844})
        width = page.evaluate("document.documentElement.scrollWidth")
        self.assertLessEqual(width, 390)
        self.picture(page, "small")


class WithAKey(BrowserCase):
    """A service that asks for keys: the page sends the one that is typed in, and never has it in its address."""

    settings = ("--keys", "true")

    def test_the_key_opens_the_day(self):
        database = ("--database", str(self.folder / "demo.db"))
        said = hall.nextrung("key", "make", "athlete", "--of", "climbing-hall", "--athlete", "wren", "--title", "Phone", *database)
        (key,) = re.findall(r"\bnextrung-[0-9a-f]{16}-[0-9a-f]{64}\b", said)
        page = self.page()
        page.goto(f"{self.origin}/?server={self.hall.url}&athlete=climbing-hall/wren&day={DAY}&key={key}")
        page.wait_for_selector("body[data-state=refused]")
        expect(page.locator("#session .code")).to_have_text("UNAUTHENTICATED · KEY_MISSING")
        page.fill("#key", key)
        page.click("#ask button")
        page.wait_for_selector("body[data-state=shown]")
        expect(page.locator(".headline")).to_contain_text("Train")
