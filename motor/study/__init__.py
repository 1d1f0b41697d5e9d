"""Studies: many designs, kept in one file, from a question in a few lines.

::

    import motor
    from motor.study import Plan, run, span, study_table, tie, values

    design = motor.read_design("studies/designs/door_woofer_ferrite.toml")
    plan = Plan(
        design,
        (values("coil.winding_height", ["10 mm", "13 mm", "16 mm"]),
         span("geometry.gap_depth", 4e-3, 8e-3, 9)),
        (tie("geometry.top_plate_thickness", "geometry.gap_depth"),),
    )
    if __name__ == "__main__":      # the workers import this file
        run(plan, "study.sqlite")
        table = study_table("study.sqlite", plan)
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
