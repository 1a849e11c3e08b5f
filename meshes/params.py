"""The numbers that describe a figure: proportions, girths, face, hands, pose, clothes.

Lengths are fractions of the standing height unless a comment says otherwise; the defaults are an
adult of ordinary proportions. Sources are named once, where the number first appears:
ANSUR II (Gordon et al. 2014), Drillis & Contini 1966, de Leva 1996, Buchholz et al. 1992 (hand),
Chancey et al. 2007 (head pivot), Dumas & Wojtusch 2018 (spine). What has no source is marked
"by eye": these figures are invented, and only have to be plausible.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

__all__ = ["FigureParams", "Hand", "Head", "Pose", "Side", "mirrored_pose"]


@dataclass(frozen=True)
class Side:
    """The pose of one arm and leg, in degrees."""

    arm_raise: float = 90.0
    """0 hangs straight down, 90 is level (T-pose)."""
    arm_forward: float = 0.0
    """Turn of the raised arm toward the front."""
    elbow: float = 8.0
    """Bend of the elbow, forearm toward the front."""
    palm_roll: float = 0.0
    """Turn of the hand about the forearm; 0 has the thumb forward, the palm down or inward."""
    wrist_bend: float = 0.0
    """Positive bends the hand toward the palm."""
    finger_curl: float = 1.0
    """How far the fingers bend, as a multiple of a relaxed flat hand."""
    finger_spread: float = 1.0
    """How far the fingers fan out, as a multiple of an ordinary fan."""
    thumb_out: float = 1.0
    """How far the thumb stands off, as a multiple of an ordinary stand."""
    leg_out: float = 3.0
    """Turn of the thigh to the side."""
    thigh_forward: float = 2.5
    """Turn of the thigh to the front."""
    knee: float = 5.0
    """Bend of the knee."""
    toe_out: float = 7.0
    """Turn of the foot to the side."""
    foot_pitch: float = 0.0
    """Toes down (positive); 0 is flat on the floor."""


@dataclass(frozen=True)
class Pose:
    """Both sides, and the head."""

    left: Side = field(default_factory=Side)
    right: Side = field(default_factory=Side)
    head_turn: float = 0.0
    """Degrees; positive turns to the figure's left."""
    head_nod: float = 0.0
    """Degrees; positive looks down."""


def mirrored_pose(**changes: float) -> Pose:
    """The same pose on both sides."""
    side = replace(Side(), **changes)
    return Pose(side, side)


@dataclass(frozen=True)
class Hand:
    """A hand, in fractions of its own length unless said otherwise."""

    length: float = 0.110
    """Wrist to tip of the middle finger, fraction of stature (ANSUR II .1101 and .1112)."""
    fingers: tuple[str, ...] = ("thumb", "index", "middle", "ring", "pinky")
    """("thumb", "middle") makes a mitten."""
    breadth: float = 1.0
    """Multiplies the palm's breadth."""
    thickness: float = 1.0
    finger_length: float = 1.0
    """Multiplies the phalanges (the hand gets longer with them)."""
    finger_girth: float = 1.0
    nails: bool = True


@dataclass(frozen=True)
class Head:
    """A head; the unit is its own height from chin to vertex unless said otherwise."""

    width: float = 1.0
    depth: float = 1.0
    jaw_width: float = 1.0
    chin: float = 1.0
    """Size of the chin."""
    cheeks: float = 0.0
    """Extra fullness of the cheeks, 0 to 1."""
    soft: float = 1.0
    """How far the masses of the face flow into one another; above 1 for a child."""
    eye_radius: float = 0.058
    """12 mm on a head of 228 mm is .053 (Bekerman et al. 2014); a little larger reads better."""
    eye_x: float = 0.142
    """Half the distance of the eyes (ANSUR II: 32 mm of 228 mm)."""
    eye_y: float = 0.495
    eye_open: float = 1.0
    """Height of the opening between the lids."""
    nose_length: float = 1.0
    nose_width: float = 1.0
    lips: float = 1.0
    mouth_width: float = 1.0
    smile: float = 0.0
    """How far the corners of the mouth go up, 0 to 1."""
    brow: float = 1.0
    ear: float = 1.0


@dataclass(frozen=True)
class FigureParams:
    """A whole figure."""

    name: str = "figure"
    height: float = 1.74
    """Height of the bare figure from sole to vertex, in the units of the file."""
    heads: float = 7.7
    """How many heads tall (1 / .130, Drillis & Contini)."""
    hip: float = 0.525
    """Height of the hip joint centre (Winter .530, HAnim nominal .521)."""
    crotch: float = 0.482
    """ANSUR II .4815 and .4802."""
    neck_gap: float = 0.018
    """How far the joint at the root of the neck (C7/T1, .85) lies below the chin (.868)."""
    shoulder_drop: float = 0.050
    """How far the head of the humerus lies below C7/T1."""
    clavicle_drop: float = 0.038
    """How far the inner end of the clavicle lies below C7/T1: the height of the jugular notch."""
    shoulder_x: float = 0.108
    """Half the distance of the two joint centres: biacromial / 2 less 12 to 20 mm."""
    hip_x: float = 0.050
    """0.36 of the pelvis width (Bell et al.), .048 to .055."""
    knee: float = 0.285
    """Height of the knee as if the leg stood straight (Drillis & Contini)."""
    ankle: float = 0.040
    """ANSUR II, malleolus .0415 and .0385."""
    foot_length: float = 0.152
    foot_breadth: float = 1.0
    upper_arm: float = 0.165
    """Joint to joint: de Leva .162, cadaver data of Klein Breteler et al. .173."""
    forearm: float = 0.153
    """de Leva .154."""
    trunk_width: float = 1.0
    trunk_depth: float = 1.0
    chest: float = 1.0
    """Multiplies width and depth of the chest."""
    waist: float = 1.0
    hips: float = 1.0
    belly: float = 0.0
    """How far the belly stands out, fraction of stature."""
    bust: float = 0.5
    shoulders: float = 1.0
    """Size of the shoulder muscles."""
    arm_girth: float = 1.0
    leg_girth: float = 1.0
    neck_girth: float = 1.0
    joint_knobs: float = 1.0
    """How far elbow, knee and ankle bones stand out."""
    shoes: str = ""
    """"" is bare feet with toes, else "shoe" or "boot"."""
    hand: Hand = field(default_factory=Hand)
    head: Head = field(default_factory=Head)
    pose: Pose = field(default_factory=Pose)
    skin: str = "one"
    """"one" is a single body; "gloves" has the hands apart from it; "pieces" makes head, arms and
    legs of their own, which only meet inside the clothes; "robot" is a machine of rigid parts."""
    hair: str = ""
    """Name of a haircut in `hair.HAIRCUTS`, or none."""
    beard: str = ""
    outfit: tuple[str, ...] = ()
    """Names of garments in `wardrobe.GARMENTS`, from the skin outward."""
    headgear: tuple[str, ...] = ()
    """Names in `headgear.HEADGEAR`; "skin:" before a name lets it grow from the skin."""
    props: tuple[str, ...] = ()
    """Names in `props.PROPS`; "skin:" likewise."""
    eyes: str = "joined"
    """"joined" puts both eyeballs in one part, "apart" in two, "none" leaves them out."""
