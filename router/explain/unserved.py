"""stub"""


class Budget:
    def __init__(self, n):
        self.left = n


def reasons_for_head(setting, head, budget=None):
    return [], [], ""


def reasons_for_run(setting, run, budget=None):
    return [], [], ""
