"""Rows that contradict others, as no act can leave them: what a log must not have made."""

_ROUNDING_ML = 0.01
"""By this much sums of volumes may be off; the triggers allow half of it at each act."""

_ROUNDING_G = 0.01
"""The same of weights."""

IN_SCHEMA_1 = f"""
    SELECT 'bottle', b.id FROM bottle b JOIN movement m ON m.bottle_id = b.id GROUP BY b.id
    HAVING sum(m.volume_ml) NOT BETWEEN -{_ROUNDING_ML} AND b.size_ml + {_ROUNDING_ML}
    UNION ALL
    SELECT 'tincture', t.id FROM tincture t JOIN bottle b ON b.tincture_id = t.id
    JOIN movement m ON m.bottle_id = b.id AND m.kind = 'fill' GROUP BY t.id
    HAVING sum(m.volume_ml) > t.volume_ml - t.lost_ml + {_ROUNDING_ML}
    UNION ALL
    SELECT 'spirit', s.id FROM spirit s JOIN pour p ON p.spirit_id = s.id GROUP BY s.id
    HAVING sum(p.volume_ml) > s.bought_ml + {_ROUNDING_ML}
    UNION ALL
    SELECT 'jar', j.id FROM jar j
    WHERE (j.state IN ('strained', 'drained'))
          <> EXISTS (SELECT 1 FROM straining WHERE jar_id = j.id)
    UNION ALL
    SELECT 'blend', t.id FROM tincture t
    WHERE (t.straining_id IS NULL) <> EXISTS (SELECT 1 FROM blend_part WHERE tincture_id = t.id)
"""
"""Rows that no act of a version with that schema can leave so, because its triggers refuse them."""

SINCE_SCHEMA_2 = f"""
    SELECT 'bottle', b.id FROM bottle b JOIN movement m ON m.bottle_id = b.id GROUP BY b.id
    HAVING sum(m.volume_ml) NOT BETWEEN -{_ROUNDING_ML} AND b.size_ml + {_ROUNDING_ML}
    UNION ALL
    SELECT 'tincture', tincture_id FROM unbottled WHERE left_ml < -{_ROUNDING_ML}
    UNION ALL
    SELECT 'spirit', spirit_id FROM spirit_left WHERE left_ml < -{_ROUNDING_ML}
    UNION ALL
    SELECT 'liquid', liquid_id FROM liquid_left WHERE left_ml < -{_ROUNDING_ML}
    UNION ALL
    SELECT 'herb lot', lot_id FROM in_store WHERE left_g < -{_ROUNDING_G}
    UNION ALL
    SELECT 'jar', j.id FROM jar j
    WHERE (j.state IN ('drained', 'strained'))
          <> EXISTS (SELECT 1 FROM straining WHERE jar_id = j.id)
    UNION ALL
    SELECT 'blend', t.id FROM tincture t
    WHERE (t.straining_id IS NULL) <> EXISTS (SELECT 1 FROM batch_input WHERE tincture_id = t.id)
"""
"""The same since."""
