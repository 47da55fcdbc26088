"""Makes the sheets of the corpus and the table of README.md. All people, days and figures in them are invented.

Run by hand when a sheet is added: python3 -B make.py (openpyxl 3.1, odfpy 1.4, XlsxWriter 3.3). Sheets that exist are made anew; what
is expected of each stands beside it in a .toml, written by hand.
"""

import datetime
import pathlib
import re
import zipfile

import odf.opendocument
import odf.table
import odf.teletype
import odf.text
import openpyxl
import openpyxl.cell.rich_text
import openpyxl.utils.datetime
import xlsxwriter

HERE = pathlib.Path(__file__).parent
DAY = datetime.date(2026, 3, 14)
SHEETS = []


def sheet(about):
    """Takes a function that makes the sheet called like it; the text says what is awkward about it."""

    def keep(make):
        SHEETS.append((make, about))
        return make

    return keep


def write(name, text, encoding="utf-8"):
    (HERE / name).write_bytes(text.encode(encoding))


HEADER = "date,name,exercise,reps,notes\n"


@sheet("CSV as it should be, one set a row, with every usual column")
def plain_sets():
    write("plain_sets.csv", "Date,Name,Exercise,Set,Reps,Weight (kg),RIR,Rest,Notes\n"
          "2026-03-14,wren,Pull-up,1,5,2.5,2,180,first of the day\n"
          "2026-03-14,wren,Pull-up,2,5,2.5,1,180,\n"
          "2026-03-14,wren,push ups,1,12,,,90,\"easy, \"\"clean\"\"\"\n"
          "2026-03-16,lark,Pull-up,1,3,-20,0,,\n")


@sheet("byte order mark, semicolons, decimal commas and days with dots")
def mark_and_semicolons():
    write("mark_and_semicolons.csv", "Date;Athlete;Exercise;Reps;Load\r\n"
          "14.03.2026;wren;pull-up;5;2,5\r\n1.4.2026;wren;pull-up;4;-12,25\r\n", "utf-8-sig")


@sheet("UTF-16, little end first with its mark, separated by tabs")
def utf16_tabs():
    write("utf16_tabs.csv", "Date\tName\tExercise\tReps\tNotes\n2026-03-14\twren\tPull-up\t5\tżywo, 5;5\n", "utf-16")


@sheet("UTF-16, big end first, without a mark")
def utf16_unmarked():
    write("utf16_unmarked.csv", HEADER + "2026-03-14,wren,Pull-up,5,ok\n", "utf-16-be")


@sheet("Windows-1252, told by the mapping")
def older_encoding():
    write("older_encoding.csv", HEADER + "2026-03-14,zoë,Pull-up,5,café – gut\n", "cp1252")


@sheet("a first line that names the separator")
def separator_line():
    write("separator_line.csv", "sep=;\nDate;Name;Exercise;Reps\n2026-03-14;wren;Pull-up;5\n")


@sheet("days written day first: one over 12 decides for all")
def day_first():
    write("day_first.csv", HEADER + "03/04/2026,wren,pull-up,5,\n14/03/2026,wren,pull-up,4,\n")


@sheet("days written month first: one over 12 decides for all")
def month_first():
    write("month_first.csv", HEADER + "3/4/26,wren,pull-up,5,\n3/14/26,wren,pull-up,4,\n")


@sheet("days in figures of which none is over 12")
def open_days():
    write("open_days.csv", HEADER + "03/04/2026,wren,pull-up,5,\n05/05/2026,wren,pull-up,5,\n06/04/2026,wren,pull-up,4,\n")


@sheet("days in figures of both orders in one column")
def both_orders():
    write("both_orders.csv", HEADER + "14/03/2026,wren,pull-up,5,\n03/15/2026,wren,pull-up,5,\n"
          "03/04/2026,wren,pull-up,4,\n")


@sheet("days with the names of weekdays and months, and with a time of day")
def named_days():
    write("named_days.csv", "Day,Who,Movement,Reps\n\"Sat, 14 March 2026\",wren,pull-up,5\nMar 15 2026,wren,pull-up,4\n"
          "2026-03-16 18:30,wren,pull-up,3\n2026-03-17T07:05:00,wren,pull-up,2\n")


@sheet("days without a year, one that never was, and none")
def faulty_days():
    write("faulty_days.csv", HEADER + "14/3,wren,pull-up,5,\n31/02/2026,wren,pull-up,5,\nyesterday,wren,pull-up,4,\n"
          "14/03/2026,wren,pull-up,4,\n")


@sheet("days that lost their format and are bare numbers")
def counted_days():
    write("counted_days.csv", HEADER + "46095,wren,pull-up,5,\n46096,wren,pull-up,4,\n")


@sheet("one exercise a row, its sets in one cell in every form of the notation")
def sets_in_a_cell():
    write("sets_in_a_cell.csv", "Date,Athlete,Exercise,Sets,Comment\n2026-03-14,wren,Pull-ups,5 5 4 f,three\n"
          "2026-03-14,wren,Push-up,3x12,\n2026-03-14,wren,Chin over hold,10s 8s,\n"
          "2026-03-15,wren,pull-up,\"2x5@+10, 3@12.5 r0 strength\",heavy\n2026-03-15,wren,pull-up lowering,6 5,\n")


@sheet("sets and reps side by side: how many and of what")
def sets_and_reps():
    write("sets_and_reps.csv", "Date,Athlete,Exercise,Sets,Reps,Weight\n2026-03-14,wren,pull-up,3,5,2.5\n"
          "2026-03-14,wren,push-up,2,12,\n2026-03-15,wren,pull-up,3,5 5 4,\n2026-03-15,wren,push-up,3,12 10,\n"
          "2026-03-16,wren,pull-up,2,4 f,\n")


@sheet("a column for each set, some left empty")
def a_column_a_set():
    write("a_column_a_set.csv", "Date,Athlete,Exercise,Set 1,Set 2,Set 3\n2026-03-14,wren,pull-up,5,5,4f\n"
          "2026-03-14,wren,push-up,12,10,\n")


@sheet("cells of sets that have no one meaning")
def unclear_sets():
    write("unclear_sets.csv", "Date,Athlete,Exercise,Sets\n2026-03-14,wren,pull-up,5 5 4\n2026-03-14,wren,pull-up,8-10\n"
          "2026-03-15,wren,pull-up,max\n2026-03-15,wren,pull-up,6-8\n2026-03-16,wren,pull-up,3+2\n"
          "2026-03-17,wren,pull-up,10s\n2026-03-18,wren,pull-up,400\n")


@sheet("the day and the name only in the first row of each day, blank rows between")
def day_once():
    write("day_once.csv", "Log of the spring,,,,\n\n" + HEADER + "2026-03-14,wren,pull-up,5,\n,,pull-up,5,\n,,push-up,12,\n"
          ",,,,\n \n2026-03-15,lark,pull-up,3,\n,,,2,\n")


@sheet("the header again for every month, and a line of totals")
def header_again():
    write("header_again.csv", HEADER + "2026-03-14,wren,pull-up,5,\n" + HEADER + "2026-04-14,wren,pull-up,6,\n,,,,total 11\n")


@sheet("two columns with the same header")
def doubled_header():
    write("doubled_header.csv", "Date,Name,Exercise,Reps,Notes,Reps\n2026-03-14,wren,pull-up,5,,4\n")


@sheet("a decimal comma that is not in quotes and makes a row one cell too long")
def loose_comma():
    write("loose_comma.csv", "date,name,exercise,reps,load\n2026-03-14,wren,pull-up,5,2,5\n2026-03-14,wren,pull-up,5,2.5\n")


@sheet("a quote that is never closed, and one within a cell")
def loose_quotes():
    write("loose_quotes.csv", HEADER + "2026-03-14,wren,pull-up,5,5\" deficit\n2026-03-14,wren,pull-up,4,\"open\n"
          "2026-03-15,wren,pull-up,3,\n")


@sheet("exercises that no rung is called like, some again and again")
def unknown_exercises():
    rows = "".join(f"2026-03-{day:02},wren,pul up,5,\n" for day in range(1, 13))
    write("unknown_exercises.csv", HEADER + rows + "2026-03-13,wren,Warm-up,1,\n2026-03-13,wren,sled,1,\n"
          "2026-03-13,wren,pull/pull-up,5,\n")


@sheet("line breaks within cells, rows that end in carriage returns alone")
def line_breaks():
    write("line_breaks.csv", HEADER.replace("\n", "\r") + "2026-03-14,wren,\"pull-up\",5,\"calm\r\nthen windy\"\r"
          "2026-03-15,wren,pull-up,4,\r")


@sheet("empty columns and rows at the ends, as exports leave them")
def empty_ends():
    write("empty_ends.csv", "date,name,exercise,reps,,,\n2026-03-14,wren,pull-up,5,,,\n,,,,,,\n,,,,,,\n")


@sheet("a header and nothing under it")
def only_a_header():
    write("only_a_header.csv", HEADER)


@sheet("no byte at all")
def nothing():
    write("nothing.csv", "")


@sheet("no header: columns are named by their letters")
def no_header():
    write("no_header.csv", "2026-03-14,pull-up,5\n2026-03-14,pull-up,4\n")


@sheet("loads in pounds, one in kilograms, and body weight alone")
def pounds():
    write("pounds.csv", "date,name,exercise,reps,weight\n2026-03-14,wren,pull-up,5,10\n2026-03-14,wren,pull-up,5,5 kg\n"
          "2026-03-14,wren,pull-up,5,BW\n2026-03-14,wren,pull-up,5,heavy\n")


@sheet("repetitions and seconds in columns of their own, one in the wrong one, one in both")
def reps_and_seconds():
    write("reps_and_seconds.csv", "date,name,exercise,reps,hold\n2026-03-14,wren,pull-up,5,\n"
          "2026-03-14,wren,chin over hold,,12 s\n2026-03-14,wren,chin over hold,12,\n2026-03-14,wren,pull-up,5,5\n"
          "2026-03-14,wren,pull-up,,\n")


@sheet("planned targets, and a column of how sets ended")
def targets_and_stops():
    write("targets_and_stops.csv", "date,name,exercise,reps,target,ended,purpose\n2026-03-14,wren,pull-up,5,5,,working\n"
          "2026-03-14,wren,pull-up,4,5,Strength,working\n2026-03-14,wren,pull-up,3,5,,attempt\n"
          "2026-03-14,wren,pull-up,3,5,tired,working\n2026-03-14,wren,pull-up,3,5,stregth,wrking\n")


@sheet("rests as people write them, dashes for nothing, pain and body mass")
def rests():
    write("rests.csv", "date,name,exercise,reps,rest (min),pain,bodyweight,tempo\n2026-03-14,wren,pull-up,5,-,–,61.5,31X1\n"
          "2026-03-14,wren,pull-up,5,3,0,,\n2026-03-14,wren,pull-up,5,1:30,2,,\n2026-03-14,wren,pull-up,5,90 s,n/a,,\n"
          "2026-03-14,wren,pull-up,5,long,11,6,\n")


@sheet("two sessions on one day")
def two_sessions():
    write("two_sessions.csv", "date,name,session,exercise,reps\n2026-03-14,wren,1,pull-up,5\n2026-03-14,wren,2,pull-up,4\n"
          "2026-03-14,wren,1,pull-up,3\n2026-03-14,wren,evening,pull-up,3\n")


@sheet("set numbers over the whole session, one of them twice")
def numbered_sets():
    write("numbered_sets.csv", "date,name,exercise,set number,reps\n2026-03-14,wren,pull-up,1,5\n2026-03-14,wren,push-up,2,9\n"
          "2026-03-14,wren,pull-up,3,4\n2026-03-15,wren,pull-up,7,4\n2026-03-15,lark,pull-up,7,4\n")


@sheet("set numbers over the whole session, one of them twice, though the mapping takes them")
def number_twice():
    write("number_twice.csv", "date,name,exercise,set number,reps\n2026-03-14,wren,pull-up,1,5\n2026-03-14,wren,push-up,1,9\n")


@sheet("more sets on one day than a session has: the athletes are missing")
def too_many_sets():
    write("too_many_sets.csv", "date,exercise,sets\n" + "2026-03-14,pull-up,50x5\n" * 5)


@sheet("a sheet of something else, read with the mapping of another")
def other_mapping():
    write("other_mapping.csv", "Date,Name,Exercise,Repz,Notes\n2026-03-14,wren,pull-up,5,\n")


@sheet("bytes that are no text")
def no_text():
    (HERE / "no_text.csv").write_bytes(b"\x00\x01\x02date,name\x00\n" * 3)


@sheet("an archive that is no workbook")
def no_workbook():
    with zipfile.ZipFile(HERE / "no_workbook.xlsx", "w") as archive:
        archive.writestr(zipfile.ZipInfo("readme.txt"), "nothing here")


@sheet("the first bytes of an old workbook, or of one with a password")
def old_workbook():
    (HERE / "old_workbook.xlsx").write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + bytes(504))


@sheet("loads in the cells of sets, with a comma that may be decimal or separate sets")
def loads_in_cells():
    write("loads_in_cells.csv", "Date;Athlete;Exercise;Sets\n14.03.2026;wren;Pull-up;3x5@2,5\n15.03.2026;wren;Pull-up;5@10,5 4\n"
          "16.03.2026;wren;Pull-up;5@10, 4@12\n17.03.2026;wren;Pull-up;5@10,4@12\n")


@sheet("loads of points and of commas in the cells of sets")
def loads_of_both_signs():
    write("loads_of_both_signs.csv", "Date;Athlete;Exercise;Sets\n14.03.2026;wren;Pull-up;3x5@2,5\n15.03.2026;wren;Pull-up;5@2.5\n")


@sheet("units named in the headers, in brackets and not")
def units_in_headers():
    write("units_in_headers.csv", "Date,Athlete,Exercise,Reps,Weight (lbs),Rest min\n2026-03-14,wren,Pull-up,5,10,3\n"
          "2026-03-14,wren,Pull-up,5,5 kg,90 s\n")


@sheet("loads headed in pounds, body mass in kilograms")
def units_of_both_kinds():
    write("units_of_both_kinds.csv", "Date,Athlete,Exercise,Reps,Weight [lb],Bodyweight (kg)\n2026-03-14,wren,Pull-up,5,10,61.5\n")


@sheet("rests so short that they may be minutes")
def short_rests():
    write("short_rests.csv", "Date,Athlete,Exercise,Reps,Rest\n2026-03-14,wren,Pull-up,5,2\n2026-03-14,wren,Pull-up,5,2.5\n")


@sheet("headers of several words")
def long_headers():
    write("long_headers.csv", "Date of the session (d/m),Athlete's full name,Exercise / variation,Clean reps,How it ended,Date entered\n"
          "14/03/2026,wren,Pull-up,5,target,15/03/2026\n")


@sheet("headers in another language, a row of remarks above them")
def other_words():
    write("other_words.csv", "Training;;;;\nDatum;Wer;Übung;Wdh;Gewicht\n14.03.2026;wren;Pull-up;5;2,5\n16.03.2026;lark;Klimmzug;4;\n")


@sheet("each day and name on a line of its own above its exercises")
def day_lines():
    write("day_lines.csv", "Date;Athlete;Exercise;Sets\n14.03.2026;wren;;\n;;Pull-up;5 5 4\n;;Push-up;3x12\n16.03.2026;lark;;\n"
          ";;Pull-up;4\n")


@sheet("lines that name weeks, remarks and rules between the rows of sets")
def week_lines():
    write("week_lines.csv", "Date,Athlete,Exercise,Sets,Notes\nWeek 1,,,,\n2026-03-14,wren,Pull-up,5 5 4,\n,,,,deload next week\n"
          "-,-,-,-,-\nWeek 2,,,,\n2026-03-21,wren,Pull-up,5 5 4,\n")


@sheet("sums under the rows, whose exercise is not the one above")
def sums_below():
    write("sums_below.csv", "Date,Athlete,Exercise,Sets,Reps\n2026-03-14,wren,Pull-up,3,5\n2026-03-14,wren,Push-up,2,12\nTotal,,,5,17\n")


@sheet("a plan with exercises that were not done")
def left_undone():
    write("left_undone.csv", "Date,Athlete,Exercise,Sets,Weight,Notes\n2026-03-14,wren,Pull-up,5 5 4,,\n2026-03-14,wren,Push-up,,2.5,elbow\n"
          "2026-03-14,wren,Pull-up,-,,\n2026-03-14,wren,Push-up,3x12,,\n")


@sheet("blanks that do not break, in days, names and numbers")
def hard_blanks():
    write("hard_blanks.csv", "Date,Athlete,Exercise,Reps\n14\u00a0March\u00a02026,wren\u00a0,Pull\u00a0up,\u00a05\n")


@sheet("a web page under the name of a sheet")
def web_page():
    write("web_page.csv", "\n<HTML><body><table><tr><td>Date</td><td>Reps</td></tr></table></body></HTML>\n")


def workbook(name, rows, change=None, epoch=None):
    book = openpyxl.Workbook()
    book.properties.created = book.properties.modified = datetime.datetime(2026, 3, 1)
    if epoch:
        book.epoch = epoch
    page = book.active
    page.title = "Log"
    for row in rows:
        page.append(row)
    if change:
        change(book, page)
    book.save(HERE / f"{name}.xlsx")


TITLES = ["Date", "Name", "Exercise", "Reps", "Notes"]


@sheet("a workbook with days, numbers and texts as they should be")
def plain_workbook():
    rows = [TITLES, [DAY, "wren", "Pull-up", 5, "first & <best>"], [datetime.datetime(2026, 3, 14, 18, 30), "wren", "Pull-up", 4, None]]
    workbook("plain_workbook", rows)


@sheet("a workbook whose days and names are merged over the rows of a day")
def merged_days():
    rows = [["Spring"], TITLES, [DAY, "wren", "pull-up", 5, "all of it"], [None, None, "pull-up", 4, None],
            [None, None, "push-up", 12, None], [DAY + datetime.timedelta(2), "lark", "pull-up", 3, None]]

    def change(_, page):
        page.merge_cells("A1:E1")
        page.merge_cells("A3:A5")
        page.merge_cells("B3:B5")
        page.merge_cells("E3:E5")

    workbook("merged_days", rows, change)


@sheet("a workbook in which one filled cell of reps is merged over two exercises")
def merged_reps():
    rows = [TITLES, [DAY, "wren", "pull-up", 5, None], [DAY, "wren", "push-up", None, None]]
    workbook("merged_reps", rows, lambda _, page: page.merge_cells("D2:D3"))


@sheet("a workbook with rows hidden by a filter")
def hidden_rows():
    rows = [TITLES, [DAY, "wren", "pull-up", 5, None], [DAY, "lark", "pull-up", 4, None], [DAY, "wren", "pull-up", 3, None]]

    def change(_, page):
        page.row_dimensions[3].hidden = True

    workbook("hidden_rows", rows, change)


@sheet("a workbook whose days are counted from 1904")
def days_of_1904():
    rows = [TITLES, [DAY, "wren", "pull-up", 5, None]]
    workbook("days_of_1904", rows, epoch=openpyxl.utils.datetime.CALENDAR_MAC_1904)


@sheet("a workbook whose numbers and days are texts")
def numbers_as_text():
    rows = [TITLES, ["14/03/2026", "wren", "pull-up", "5", None], ["15/03/2026", "wren", "pull-up", " '4 ", None]]
    workbook("numbers_as_text", rows)


@sheet("a workbook with formulas whose values were never saved, some in columns that are read")
def unsaved_formulas():
    rows = [TITLES + ["Total"], [DAY, "wren", "pull-up", 5, None, "=SUM(D2:D3)"], [DAY, "wren", "pull-up", "=D2-1", None, "=D3"]]
    workbook("unsaved_formulas", rows)


@sheet("a workbook with errors of the spreadsheet in its cells")
def cell_errors():
    workbook("cell_errors", [TITLES, [DAY, "wren", "#N/A", 5, None], [DAY, "wren", "pull-up", "#DIV/0!", None]])


@sheet("a workbook that took sets for days and for one number")
def sets_taken_for_days():
    rows = [["Date", "Name", "Exercise", "Sets"], [DAY, "wren", "pull-up", "5 5 4"], [DAY, "wren", "pull-up", datetime.date(2026, 5, 3)],
            [DAY, "wren", "pull-up", 5.5], [DAY, "wren", "pull-up", 5]]
    workbook("sets_taken_for_days", rows)


@sheet("a workbook with rests and holds as times of day, and a day that is one")
def times_of_day():
    rows = [["Date", "Name", "Exercise", "Seconds", "Rest"], [DAY, "wren", "chin-over-hold", 10, datetime.time(0, 3)],
            [datetime.time(18, 30), "wren", "chin-over-hold", datetime.time(0, 0, 10), None]]
    workbook("times_of_day", rows)


@sheet("a workbook of two visible sheets and a hidden one")
def two_sheets():
    def change(book, _):
        other = book.create_sheet("Lark")
        other.append(TITLES)
        other.append([DAY, "lark", "pull-up", 3, None])
        book.create_sheet("Lists").sheet_state = "hidden"

    workbook("two_sheets", [TITLES, [DAY, "wren", "pull-up", 5, None]], change)


@sheet("a workbook with texts of several colours within a cell, and a cell that is true")
def rich_text():
    bold = openpyxl.cell.rich_text.TextBlock(openpyxl.cell.text.InlineFont(b=True), "pull")
    rows = [TITLES, [DAY, "wren", openpyxl.cell.rich_text.CellRichText(bold, "-up"), 5, None], [DAY, "wren", "pull-up", True, None]]
    workbook("rich_text", rows)


@sheet("a workbook that turned the days up to the 12th round and left the others as texts")
def turned_days():
    rows = [TITLES, [datetime.date(2026, 4, 3), "wren", "pull-up", 5, None], ["14/03/2026", "wren", "pull-up", 4, None]]
    workbook("turned_days", rows)


@sheet("a workbook with two rows of headers, a load beside each set, and notes without a header")
def two_rows_of_headers():
    rows = [["Date", "Name", "Exercise", "Set 1", None, "Set 2", None, None], [None, None, None, "Reps", "kg", "Reps", "kg", None],
            [DAY, "wren", "pull-up", 5, 2.5, 4, 2.5, "windy"]]

    def change(_, page):
        page.merge_cells("D1:E1")
        page.merge_cells("F1:G1")

    workbook("two_rows_of_headers", rows, change)


@sheet("a workbook with formulas that came to an empty text, filled down below the last row")
def empty_formulas():
    book = xlsxwriter.Workbook(HERE / "empty_formulas.xlsx")
    book.set_properties({"created": datetime.datetime(2026, 3, 1)})
    page = book.add_worksheet("Log")
    page.write_row(0, 0, TITLES)
    for at, (day, reps) in enumerate([("2026-03-14", 5), ("2026-03-15", 4), ("", 0), ("", 0)], 1):
        shown = [day, "wren" if day else "", "pull-up" if day else "", reps if day else "", ""]
        for column, value in enumerate(shown):
            page.write_formula(at, column, f'=IF(Z{at}="","",Z{at})', None, value)
    book.close()
    with zipfile.ZipFile(HERE / "empty_formulas.xlsx") as made:
        parts = {part: made.read(part) for part in made.namelist()}
    with zipfile.ZipFile(HERE / "empty_formulas.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            # Spreadsheet programs name the kind of an empty text too.
            text = re.sub(rb'<c r="([A-Z]+[0-9]+)">(<f>[^<]*</f><v></v>)', rb'<c r="\1" t="str">\2', content)
            archive.writestr(zipfile.ZipInfo(name, (2026, 3, 1, 0, 0, 0)), text)


def document(name, rows, hidden=(), repeated=None, spanned=None, formula=None):
    book = odf.opendocument.OpenDocumentSpreadsheet()
    page = odf.table.Table(name="Log")
    for at, cells in enumerate(rows):
        row = odf.table.TableRow(**({"visibility": "filter"} if at in hidden else {}))
        if repeated == at:
            row.setAttribute("numberrowsrepeated", 3)
        for column, value in enumerate(cells):
            row.addElement(document_cell(value, spanned == (at, column), formula == (at, column)))
        page.addElement(row)
    end = odf.table.TableRow(numberrowsrepeated=1000000)
    end.addElement(odf.table.TableCell(numbercolumnsrepeated=16000))
    page.addElement(end)
    book.spreadsheet.addElement(page)
    book.save(str(HERE / f"{name}.ods"))


def document_cell(value, is_spanned, is_formula):
    given = {"numberrowsspanned": 2, "numbercolumnsspanned": 1} if is_spanned else {}
    if is_formula:
        return odf.table.TableCell(formula="of:=[.D2]-1", **given)
    if value is None:
        return odf.table.TableCell(**given)
    if isinstance(value, datetime.date):
        return odf.table.TableCell(valuetype="date", datevalue=value.isoformat(), **given)
    if isinstance(value, (int, float)):
        return odf.table.TableCell(valuetype="float", value=value, **given)
    cell = odf.table.TableCell(valuetype="string", **given)
    for line in value.split("\n"):
        paragraph = odf.text.P()
        odf.teletype.addTextToElement(paragraph, line)
        cell.addElement(paragraph)
    return cell


@sheet("an ods with days, numbers, texts of two lines and a blank million rows at its end")
def plain_document():
    document("plain_document", [TITLES, [DAY, "wren", "Pull-up", 5, "first\nsecond  & third"], [DAY, "wren", "Pull-up", 4, None]])


@sheet("an ods with a merged day, a hidden row and a row that is repeated")
def awkward_document():
    rows = [TITLES, [DAY, "wren", "pull-up", 5, None], [None, "wren", "pull-up", 4, None], [DAY, "lark", "pull-up", 3, None],
            [DAY, "wren", "push-up", 9, None]]
    document("awkward_document", rows, hidden=(3,), repeated=4, spanned=(1, 0))


@sheet("an ods with a formula whose value was not saved, and a number in quotes of text")
def unsaved_document():
    rows = [TITLES, [DAY, "wren", "pull-up", "5", None], [DAY, "wren", "pull-up", None, None]]
    document("unsaved_document", rows, formula=(2, 3))


@sheet("a line of sums whose day, name and exercise are empty")
def line_of_sums():
    write("line_of_sums.csv", "Date,Athlete,Exercise,Reps,Weight\n"
          "2026-03-14,wren,Pull-up,5,2.5\n"
          ",,,5,2.5\n"
          "2026-03-14,wren,Push-up,12,\n"
          ",,,22,5\n"
          "2026-03-16,wren,Pull-up,6,2.5\n"
          ",,,6,\n")


@sheet("units behind the words of headers without brackets")
def units_behind_headers():
    write("units_behind_headers.csv", "Date,Athlete,Exercise,Reps,Weight kg,Rest sec,RPE\n"
          "2026-03-14,wren,Pull-up,5,20,180,8\n")


@sheet("headers whose brackets change what they mean")
def dressed_headers():
    write("dressed_headers.csv", "Date,Athlete,Exercise,Reps,Reps (planned),Weight (% of body),Rest (days)\n"
          "2026-03-14,wren,Pull-up,5,6,10,2\n")


@sheet("whole reps with a decimal comma, as a spreadsheet exports them")
def decimals_of_reps():
    write("decimals_of_reps.csv", "Date;Athlete;Exercise;Reps;Weight\n"
          "14.03.2026;wren;Pull-up;5,0;2,5\n"
          "16.03.2026;wren;Pull-up;5 4;2,5\n")


@sheet("days in figures with a year of two figures that stands first")
def short_years_first():
    write("short_years_first.csv", "Date,Athlete,Exercise,Reps\n"
          "26-03-14,wren,Pull-up,5\n"
          "26-03-16,wren,Pull-up,5\n")


@sheet("a column called Set that holds how many there were")
def counts_called_set():
    write("counts_called_set.csv", "Date,Athlete,Exercise,Set,Reps\n"
          "2026-03-14,wren,Pull-up,3,5\n"
          "2026-03-16,wren,Pull-up,4,6\n")


@sheet("how many sets beside two columns of what they were, of which each row fills one")
def sets_of_reps_or_holds():
    write("sets_of_reps_or_holds.csv", "Date,Athlete,Exercise,Sets,Reps,Hold (s)\n"
          "2026-03-14,wren,Pull-up,3,5,\n"
          "2026-03-14,wren,chin-over-hold,2,,12\n"
          "2026-03-16,wren,chin-over-hold,2,10,\n")


@sheet("what was planned beside what was done, both in columns of sets")
def plan_and_done():
    write("plan_and_done.csv", "Date,Athlete,Exercise,Sets,Reps,Done\n"
          "2026-03-14,wren,Pull-up,3,5,5 5 3\n"
          "2026-03-16,wren,Pull-up,3,5,-\n")


@sheet("a load, a reserve and an end in the cell of sets and, otherwise, in columns of their own")
def said_twice():
    write("said_twice.csv", "Date,Athlete,Exercise,Sets,Weight,Ended,RIR\n"
          "2026-03-14,wren,Pull-up,3x5@10,20,,\n"
          "2026-03-15,wren,Pull-up,5 5 4 f,,target,\n"
          "2026-03-16,wren,Pull-up,5 5r1,,,3\n"
          "2026-03-17,wren,Pull-up,5@10 f,10,failed,\n")


@sheet("a workbook whose number formats say what the numbers are: hundredths, pounds, sets before the count")
def number_formats():
    book = openpyxl.Workbook()
    page = book.active
    page.append(["Date", "Athlete", "Exercise", "Sets", "Weight"])
    for at, (count, shown, load, of_load) in enumerate(
        [(12, '"3x"0', 25, '0.0" lb"'), (5, '0" reps"', 0.1, "0%"), (5, "0", 2.5, "0.0")], start=2
    ):
        page.append([DAY + datetime.timedelta(days=at), "wren", "pull-up", count, load])
        page.cell(at, 4).number_format = shown
        page.cell(at, 5).number_format = of_load
    book.save(HERE / "number_formats.xlsx")


@sheet("a column of weights that may be what the athlete weighed")
def weights_of_people():
    write("weights_of_people.csv", "Date,Athlete,Exercise,Reps,Weight\n"
          "2026-03-14,wren,Pull-up,5,61.5\n"
          "2026-03-16,wren,Pull-up,5,61.8\n")


@sheet("days across, the name only in the first row of each athlete, the header again for the next month")
def days_across():
    write("days_across.csv", "Spring;;;;;\n"
          "Name;Exercise;Band;02.03.2026;04.03.2026;16.03.2026\n"
          "wren;Pull-up;none;5 5 4;5;6@2,5 5 f\n"
          ";Push-up;none;3x12;;15 14\n"
          "lark;Pull-up;red;3 3;-;3 3 3\n"
          ";Low row;red;;;\n"
          ";;;;;\n"
          "Name;Exercise;Band;01.04.2026;03.04.2026;\n"
          "wren;Pull-up;none;6 6;;\n"
          ";Chin-over hold;none;10s 8s;12s;\n")


@sheet("days across, with cells that are no sets, cells beside the days, and nothing under an exercise")
def days_across_faults():
    write("days_across_faults.csv", "Athlete,Exercise,2026-03-02,2026-03-04,2026-03-16,\n"
          "wren,Pull-up,5 5,8-10,6,\n"
          "wren,Push-up,12,12,12,9\n"
          "lark,Pull-up,3,3,,\n"
          "lark,Push-ups?,,,4,\n"
          "Athlete,Exercise,2026-04-01,,,\n"
          "lark,Pull-up,max,,,\n")


@sheet("days across without their year")
def days_across_no_year():
    write("days_across_no_year.csv", "Exercise,Mon 2/3/26,Wed 4/3/26,Mon 16/3\nPull-up,5 5,5,6\n")


@sheet("days across with nothing over the exercises, weekdays under the days, and other days further down")
def days_across_blank_corner():
    write("days_across_blank_corner.csv", ",02.03.2026,04.03.2026,16.03.2026\n"
          ",Mon,Wed,Mon\n"
          "Pull-up,5 5,,6\n"
          "Push-up,,12,12\n"
          ",01.04.2026,03.04.2026,\n"
          "Pull-up,,6 6,\n")


@sheet("days across without their year, read by a mapping that says so")
def days_across_half_days():
    write("days_across_half_days.csv", "Exercise,2/3,16/3\nPull-up,5 5,6\n")


@sheet("days across, the header again without days")
def days_across_lost_days():
    write("days_across_lost_days.csv", "Exercise,02.03.2026,16.03.2026\n"
          "Pull-up,5 5,6\n"
          "Exercise,Week 14,Week 15\n"
          "Pull-up,6 6,7\n")


@sheet("days across, sets that a spreadsheet took for days under an exercise that stands above")
def days_across_taken_for_days():
    write("days_across_taken_for_days.csv", "Name,Exercise,02.03.2026,16.03.2026\n"
          "wren,Pull-up,5 5,6\n"
          ",,03.05.2026,04.05.2026\n")


@sheet("days across, a further row of days without the headers, with a word beside them")
def days_across_other_corner():
    write("days_across_other_corner.csv", "Exercise;Goal;02/03/26;14/03/26\n"
          "Pull-up;x;5;5\n"
          ";y;01/04/26;03/04/26\n"
          "Pull-up;x;6;6\n")


@sheet("days across, sets with slashes that look like days under an exercise that stands above")
def days_across_slashes():
    write("days_across_slashes.csv", ",02.03.2026,16.03.2026\n"
          "Pull-up,5,10/10/12\n"
          ",10/10/12,\n"
          "Push-up,12,12\n")


@sheet("days across, a cell beside the days alone in the row of another athlete")
def days_across_stray_alone():
    write("days_across_stray_alone.csv", "Name;Exercise;02.03.2026;04.03.2026;\n"
          "wren;Pull-up;5;5;\n"
          ";Push-up;12;12;\n"
          "lark;Pull-up;;;9\n"
          ";Push-up;8;8;\n")


@sheet("days across, a later block that lacks the header of its first column")
def days_across_lost_header():
    write("days_across_lost_header.csv", "Exercise;02.03.2026;14.03.2026;16.03.2026\n"
          "Pull-up;5;5;5\n"
          "exercise;;04.04.2026;06.04.2026\n"
          "Pull-up;6;5;5\n")


@sheet("days across, a later block that begins a column further right, with a word where the first one had a day")
def days_across_further_right():
    write("days_across_further_right.csv", "Exercise;14.03.2026;16.03.2026;18.03.2026\n"
          "Pull-up;5;5;5\n"
          "Exercise;;04.04.2026;06.04.2026\n"
          "Pull-up;sick;5;5\n")


@sheet("days across, a row without its exercise whose sets with slashes all look like days")
def days_across_slashes_alone():
    write("days_across_slashes_alone.csv", ";14.03.2026;16.03.2026\n"
          "Pull-up;5;5\n"
          ";10/10/12;12/10/10\n"
          "Push-up;12;12\n")


@sheet("days across, an exercise that is meant for nothing, with sets on several days and beside them")
def days_across_left_out():
    write("days_across_left_out.csv", "Exercise;14.03.2026;16.03.2026;\n"
          "Jog;20;25;9\n"
          "Pull-up;5;5;\n")


@sheet("days across in Windows-1252, with a cell to mend under each of two rows of days")
def days_across_windows():
    write("days_across_windows.csv", "Übung;14.03.2026;16.03.2026\n"
          "Pull-up;5;müde\n"
          "Übung;04.04.2026;06.04.2026\n"
          "Pull-up;5;müde\n", "windows-1252")


@sheet("days across, more days in the second row of headers, and a header there that the first has not")
def days_across_longer_later():
    write("days_across_longer_later.csv", "Exercise;14.03.2026;16.03.2026\n"
          "Pull-up;5;5\n"
          "Exercise;04.04.2026;06.04.2026;08.04.2026;10.04.2026;Mood\n"
          "Pull-up;6;6;6;6;fine\n")


@sheet("days across, read by a mapping that has a column of reps besides")
def days_across_and_reps():
    write("days_across_and_reps.csv", "Exercise;Reps;14.03.2026;16.03.2026\n"
          "Pull-up;5;5;5\n")


@sheet("sets that are numbered on, alike in two blocks")
def numbered_on():
    write("numbered_on.csv", "date,name,exercise,set,reps\n"
          "2026-03-14,wren,Pull-up,1,5\n2026-03-16,wren,Pull-up,1,6\n"
          "2026-03-14,wren,Pull-up,2,5\n2026-03-16,wren,Pull-up,2,6\n")


@sheet("days across with nothing over the exercises, and sets that a spreadsheet took for days under one that stands above")
def days_across_taken_bare():
    write("days_across_taken_bare.csv", ",02.03.2026,16.03.2026\n"
          "Pull-up,5 5,6\n"
          ",03.05.2026,04.05.2026\n")


@sheet("days across, one day twice")
def days_across_day_twice():
    write("days_across_day_twice.csv", "Exercise;14.03.2026;16.03.2026;14.03.2026\nPull-up;5;5;5\n")


@sheet("days across, a block pasted twice")
def days_across_pasted_twice():
    block = "Exercise;14.03.2026;16.03.2026\nPull-up;5 5;5\nPush-up;12;\n"
    write("days_across_pasted_twice.csv", block + block)


@sheet("days across of one athlete, another's name over the rows below, and a line of sums")
def days_across_names_and_sums():
    write("days_across_names_and_sums.csv", "Exercise;14.03.2026;16.03.2026;Notes\n"
          "Pull-up;5;5;\n"
          "Push-up;12;10;tired\n"
          ";17;15;\n"
          "Lark;;;\n"
          "Pull-up;4;4;\n")


@sheet("days across, headers that hold a day and a word more")
def days_across_day_and_more():
    write("days_across_day_and_more.csv", "Exercise;14.03.2026;16.03.2026;18.03.2026 PM\nPull-up;5;5;5\n")


@sheet("days across, an exercise that nobody knows, with sets on several days")
def days_across_unknown():
    write("days_across_unknown.csv", "Name;Exercise;14.03.2026;16.03.2026;18.03.2026\n"
          "wren;Chins;5;5;5\n"
          "wren;Pull-up;4;max;4\n"
          "lark;Pull-up;3;3;\n")


@sheet("days across in a workbook that turned round the days up to the 12th")
def days_across_turned():
    book = openpyxl.Workbook()
    page = book.active
    page.append(["Exercise", datetime.date(2026, 2, 3), datetime.date(2026, 4, 3), "16/03/2026"])
    page.append(["pull-up", 5, 6, 7])
    book.save(HERE / "days_across_turned.xlsx")


@sheet("days across, weekdays for the next week")
def days_across_weekdays_alone():
    write("days_across_weekdays_alone.csv", "Exercise;02.03.2026;14.03.2026\n"
          ";Mon;Sat\n"
          "Pull-up;5;5\n"
          ";Mon;Sat\n"
          "Pull-up;6;6\n")


@sheet("days across, a cell beside the days and nothing else in its row, and the header of the first day lost")
def days_across_beside():
    write("days_across_beside.csv", "Name;Exercise;;14.03.2026;16.03.2026;\n"
          "wren;Pull-up;red;5;5;\n"
          ";Push-up;12;12;;\n"
          ";;;;;9\n")


@sheet("days across, a line of sums of which one column has a single row above")
def days_across_sums():
    write("days_across_sums.csv", "Exercise;14.03.2026;16.03.2026\n"
          "Pull-up;5;5\n"
          "Push-up;12;\n"
          ";17;5\n")


@sheet("days across, a further row of days without their year")
def days_across_half_days_below():
    write("days_across_half_days_below.csv", "Exercise;02.03.2026;14.03.2026\n"
          "Pull-up;5;5\n"
          ";1/4;3/4\n"
          "Pull-up;6;6\n")


@sheet("days across, signs at a day, and sets with slashes under an exercise that is named")
def days_across_signs():
    write("days_across_signs.csv", "Exercise;14.03.2026;16.03.2026*;18.03.2026\nPull-up;5;5;5\n")


@sheet("days across, sets with slashes that look like days under an exercise that is named")
def days_across_slashes_named():
    write("days_across_slashes_named.csv", "Exercise;14.03.2026;16.03.2026\n"
          "Push-up;12/10/10;10/10/10\n"
          "Pull-up;5/5;5/4\n")


@sheet("days across with nothing over the exercises, below a day beside a title, further days with slashes")
def days_across_as_of():
    write("days_across_as_of.csv", "As of;14.03.2026;\n"
          ";02/03/2026;14/03/2026\n"
          "Pull-up;5;5\n"
          ";01/04/2026;03/04/2026\n"
          "Pull-up;6;6\n")


@sheet("days across, none of which has its year")
def days_across_no_year_at_all():
    write("days_across_no_year_at_all.csv", "Name,Exercise,Mon 2/3,Wed 4/3,Mon 16/3\nwren,Pull-up,5 5,5,6\n")


@sheet("days across in a workbook: real days, one of them merged over two columns, numbers as counts")
def days_across_book():
    book = openpyxl.Workbook()
    page = book.active
    page.append(["Exercise", DAY, DAY + datetime.timedelta(days=2), None, DAY + datetime.timedelta(days=4)])
    page.merge_cells("C1:D1")
    page.append(["pull-up", 5, "5 4", None, 6])
    page.append(["push-up", "3x12", 12, 11, None])
    book.save(HERE / "days_across_book.xlsx")


@sheet("days across in a workbook: exercises and cells merged over two rows")
def days_across_merged():
    book = openpyxl.Workbook()
    page = book.active
    page.append(["Exercise", DAY, DAY + datetime.timedelta(days=2)])
    page.append(["pull-up", "5 5", 6])
    page.append([None, None, 7])
    page.append(["push-up", 12, None])
    page.merge_cells("A2:A3")
    page.merge_cells("B2:B3")
    book.save(HERE / "days_across_merged.xlsx")


@sheet("rows that cannot be trusted, above rows that say the name and the day no more")
def untrusted_rows():
    write("untrusted_rows.csv", "Date;Athlete;Exercise;Reps\n"
          "14.03.2026;wren;Pull-up;5\n"
          ";lark;Pull-up;4;5\n"
          ";;Pull-up;3\n"
          "15.03.2026;wren;Pull-up;5\n"
          ";lark;\"Pull-up\"s;4\n"
          ";;Pull-up;3\n"
          "16.03.2026;wren;Pull-up;5\n"
          ";;Pull-up;4;5\n"
          ";;Pull-up;3\n")


@sheet("a week pasted twice")
def pasted_twice():
    week = ("2026-03-14,wren,Pull-up,5 5 4\n"
            ",,Push-up,12 12\n"
            "2026-03-16,wren,Pull-up,5 5 5\n"
            "2026-03-18,wren,Pull-up,6 5\n")
    write("pasted_twice.csv", "Date,Athlete,Exercise,Sets\n" + week + week)


def main():
    lines = []
    for make, about in SHEETS:
        make()
        files = sorted(path.name for path in HERE.glob(f"{make.__name__}.*") if path.suffix != ".toml")
        lines.append(f"| {', '.join(f'`{name}`' for name in files)} | {about} |\n")
    (HERE / "README.md").write_text(
        "# Awkward sheets\n\nMade by `make.py` with openpyxl, odfpy and XlsxWriter; all people, days and figures are invented. Beside each "
        "stands what is expected of\nit, read by `../corpus.rs`.\n\n| sheet | what is awkward about it |\n|---|---|\n"
        + "".join(lines))


if __name__ == "__main__":
    main()
