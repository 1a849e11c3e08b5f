"""The nominal figure of HAnim: joint centres in metres, as the working group's texts print them.

ISO/IEC 19774-1:2019, level of articulation 2 with eyes, version-2 names; the numbers go back to
Univ. Pennsylvania MS-CIS-89-71. Frame: +Y up, +Z forward, +X left. The right side mirrors the left.
"""

from __future__ import annotations

import numpy as np

from autoplace.skeleton.model import Joint, Skeleton

MIDDLE = {
    "humanoid_root": (None, (0, 0.8240, 0.0277)),
    "sacroiliac": ("humanoid_root", (0, 0.9149, 0.0016)),
    "vl5": ("humanoid_root", (0.0028, 1.0568, -0.0776)),
    "vl3": ("vl5", (0.0041, 1.1276, -0.0796)),
    "vl1": ("vl3", (0.0048, 1.1912, -0.0805)),
    "vt10": ("vl1", (0.0056, 1.2848, -0.0822)),
    "vt6": ("vt10", (0.0059, 1.3866, -0.0800)),
    "vt1": ("vt6", (0.0065, 1.4951, -0.0387)),
    "vc4": ("vt1", (0.0066, 1.5662, -0.0084)),
    "vc2": ("vc4", (0.0066, 1.5928, -0.0103)),
    "skullbase": ("vc2", (0.0044, 1.6209, 0.0236)),
}
LEFT = {
    "eyeball_joint": ("skullbase", (0.0336, 1.6332, 0.0502)),
    "hip": ("sacroiliac", (0.0961, 0.9124, -0.0001)),
    "knee": ("l_hip", (0.1040, 0.4867, 0.0308)),
    "talocrural": ("l_knee", (0.1101, 0.0656, -0.0736)),
    "tarsometatarsal_2": ("l_talocrural", (0.1086, 0.0001, -0.0368)),
    "metatarsophalangeal_2": ("l_tarsometatarsal_2", (0.1086, 0.0001, 0.0368)),
    "tarsal_distal_interphalangeal_2": ("l_metatarsophalangeal_2", (0.1086, 0, 0.0762)),
    "sternoclavicular": ("vt1", (0.0820, 1.4488, -0.0353)),
    "acromioclavicular": ("l_sternoclavicular", (0.0962, 1.4269, -0.0424)),
    "shoulder": ("l_acromioclavicular", (0.2029, 1.4376, -0.0387)),
    "elbow": ("l_shoulder", (0.2014, 1.1357, -0.0682)),
    "radiocarpal": ("l_elbow", (0.1984, 0.8663, -0.0583)),
    "carpometacarpal_1": ("l_radiocarpal", (0.1924, 0.8472, -0.0534)),
    "metacarpophalangeal_1": ("l_carpometacarpal_1", (0.1951, 0.8226, 0.0246)),
    "carpal_interphalangeal_1": ("l_metacarpophalangeal_1", (0.1955, 0.8159, 0.0464)),
}
RAYS = {
    2: ((0.1983, 0.8024, -0.0280), (0.1983, 0.7815, -0.0280), (0.2017, 0.7363, -0.0248)),
    3: ((0.1987, 0.8029, -0.0530), (0.1987, 0.7818, -0.0530), (0.2013, 0.7273, -0.0503)),
    4: ((0.1956, 0.8019, -0.0794), (0.1956, 0.7815, -0.0794), (0.1973, 0.7287, -0.0777)),
    5: ((0.1925, 0.8066, -0.1036), (0.1925, 0.7866, -0.1036), (0.1938, 0.7452, -0.1024)),
}
DISTAL = {
    2: (0.2028, 0.7139, -0.0236),
    3: (0.2026, 0.7011, -0.0494),
    4: (0.1983, 0.7045, -0.0767),
    5: (0.1948, 0.7277, -0.1017),
}


def hanim_figure() -> Skeleton:
    """The figure as a skeleton under HAnim's own names."""
    rows = dict(MIDDLE)
    left = {f"l_{name}": row for name, row in LEFT.items()}
    for ray, places in RAYS.items():
        above = "l_radiocarpal"
        names = ("carpometacarpal", "metacarpophalangeal")
        names += ("carpal_proximal_interphalangeal", "carpal_distal_interphalangeal")
        for name, at in zip(names, (*places, DISTAL[ray]), strict=True):
            left[f"l_{name}_{ray}"] = (above, at)
            above = f"l_{name}_{ray}"
    rows |= left
    for name, (above, (x, y, z)) in left.items():
        other = "r" + above[1:] if above.startswith("l_") else above
        rows["r" + name[1:]] = (other, (-x, y, z))
    return Skeleton(tuple(Joint(n, p, np.array(at, dtype=float)) for n, (p, at) in rows.items()))
