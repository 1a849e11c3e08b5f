"""Which of our joints the joints of a skeleton from elsewhere are."""

from autoplace.skeleton.roles.guess import Roles, guess_roles
from autoplace.skeleton.roles.ledger import RoleGuess

__all__ = ["RoleGuess", "Roles", "guess_roles"]
