"""Small procedures that tests of several files tell their stories in."""

from __future__ import annotations

from story import protocol_of

ONE_STAGE = """
format = 1
id = "small"
version = "1"
title = "A small operation"

[[roles]]
id = "circulating"
label = "Circulating practitioner"
post = "circulating"

[[stages]]
id = "only"
label = "The only stage"

[[stages.steps]]
id = "ready"
label = "Ready"
key = "r"
starts_case = true

[[stages.steps]]
id = "shave"
label = "Base shave"
key = "s"
shape = "span"
occurrence = "repeat"
"""
"""A file that begins a stage of which more steps may be told behind it."""

TWO_STAGES = protocol_of("""
[[stages]]
id = "access"
label = "Access"
[[stages.steps]]
id = "ports"
label = "Ports in"
starts_case = true
[[stages.steps]]
id = "chandelier"
label = "Chandelier light in"
occurrence = "optional"
[[stages.steps]]
id = "buckle"
label = "Buckle"
when = { all = [{ fact = "buckle_planned", choice = [true] }] }

[[stages]]
id = "cut"
label = "Cut"
[[stages.steps]]
id = "cut"
label = "Retina cut"
shape = "span"
occurrence = "repeat"
[[stages.steps]]
id = "haemostasis"
label = "Haemostasis at the edge"
shape = "span"
due_again = [{ step = "cut", edge = "stop", reason = "a cut edge bleeds" }]
[[stages.steps]]
id = "ports_out"
label = "Ports out"
ends_case = true

[[facts]]
id = "buckle_planned"
label = "Buckle planned"
kind = "flag"
default = false
""")

CUT = protocol_of("""
[[facts]]
id = "oil_in_situ"
label = "Oil in situ"
kind = "flag"
default = false

[[stages]]
id = "access"
label = "Access"
[[stages.steps]]
id = "sign_in"
label = "Sign-in"
[[stages.steps]]
id = "ports"
label = "Ports in"
needs = [{ step = "sign_in", level = "safety", reason = "identity first" }]
[[stages.steps]]
id = "oil_out"
label = "Old oil out"
when = { all = [{ fact = "oil_in_situ", choice = [true] }] }
[[stages.steps]]
id = "chandelier"
label = "Chandelier"
occurrence = "optional"

[[stages]]
id = "cut"
label = "Cut"
[[stages.steps]]
id = "cut"
label = "Retina cut"
occurrence = "repeat"
[[stages.steps]]
id = "haemostasis"
label = "Haemostasis"
due_again = [{ step = "cut", reason = "a cut edge bleeds" }]
[[stages.steps]]
id = "laser"
label = "Laser"
needs = [{ step = "haemostasis", level = "safety", reason = "no laser through blood" }]
[[stages.steps]]
id = "gas_in"
label = "Gas in"
occurrence = "one_of"
group = "tamponade"
[[stages.steps]]
id = "oil_in"
label = "Oil in"
occurrence = "one_of"
group = "tamponade"
needs = [{ step = "chandelier", level = "order", reason = "light" }]

[[stages]]
id = "leave"
label = "Leave"
[[stages.steps]]
id = "orders"
label = "Orders"
needs = [{ any_step = ["gas_in", "oil_in"], level = "order", reason = "posture depends on it" }]
[[stages.steps]]
id = "out"
label = "Patient out"
ends_case = true
[[stages.steps]]
id = "debrief"
label = "Team debrief"

[[anytime]]
id = "specimen"
label = "Specimen"
""")
