"""What part names hint at. Names only tip the scale between measures; none decides alone."""

from __future__ import annotations

import re

__all__ = ["hinted_role"]

WORDS: dict[str, tuple[str, ...]] = {
    "eyeball": ("eye", "eyes", "eyeball", "eyeballs", "iris", "pupil", "pupils", "cornea", "lens"),
    "inner_mouth": ("teeth", "tooth", "tongue", "gum", "gums", "denture", "jaws"),
    "hair": (
        "hair", "hairs", "brow", "brows", "eyebrow", "eyebrows", "lash", "lashes", "eyelash",
        "eyelashes", "beard", "moustache", "mustache", "ponytail", "fringe", "braid", "wig",
    ),
    "garment": (
        "cloak", "cape", "coat", "dress", "skirt", "robe", "gown", "poncho", "apron", "scarf",
        "mantle", "shawl", "tunic", "jacket", "waistcoat", "vest", "kimono", "toga", "veil",
    ),
    "accessory": (
        "hat", "helmet", "cap", "crown", "belt", "glasses", "goggles", "earring", "earrings",
        "necklace", "ring", "watch", "ground", "floor", "base", "stand", "plane", "prop", "button",
        "buttons", "bead", "beads",
    ),
    "carried": (
        "sword", "shield", "staff", "bow", "quiver", "spear", "knife", "lantern", "basket",
        "bucket", "book", "spellbook", "bag", "backpack", "satchel", "pouch", "weapon", "weapons",
        "axe", "hammer", "mace", "dagger", "blade", "sheath", "scabbard", "holster", "lance",
        "pike", "halberd", "trident", "scythe", "wand", "crossbow", "arrow", "arrows", "gun",
        "rifle", "pistol", "musket", "torch", "shovel", "pickaxe", "broom", "umbrella", "banner",
        "flag", "hilt", "grip", "handle",
    ),
    "body": (
        "body", "skin", "head", "face", "torso", "arm", "arms", "hand", "hands", "leg", "legs",
        "foot", "feet", "trousers", "pants", "boot", "boots", "shoe", "shoes", "nose", "ear",
        "ears",
    ),
}  # fmt: skip
_ROLE_OF_WORD = {word: role for role, words in WORDS.items() for word in words}


def hinted_role(name: str) -> str | None:
    """The role that a word of a part's name speaks for, or None; the last such word counts.

    Words are split at marks, digits and capitals: 'Rogue_ArmLeft' holds 'rogue', 'arm', 'left'.
    """
    spaced = re.sub(r"([a-z])([A-Z])", r"\1 \2", name)
    words = re.split(r"[^a-z]+", spaced.lower())
    found = [_ROLE_OF_WORD[word] for word in words if word in _ROLE_OF_WORD]
    return found[-1] if found else None
