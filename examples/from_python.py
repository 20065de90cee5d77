"""The main job from Python, as shown in README."""

import pacewright as pw

green = pw.Green(speed_m=pw.parse_length("10ft"))
options = pw.AssessOptions(green=green, asked_length_m=(pw.parse_length("10ft"),))
(assessment,) = pw.assess(["examples/hasty-10ft.csv"], options)

for finding in assessment.findings:
    print(finding.statement)

station = pw.build_station([0.9, 3.0, 9.0], green, strokes=assessment.strokes)
for putt in station.stations:
    print(f"{putt.putt_length_m} m: back {putt.back_marker_m:.3f} m, through {putt.through_marker_m:.3f} m")
