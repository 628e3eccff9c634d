"""The instructor's view: what the class gets wrong and why, what to teach again, who needs a talk, what waits.

================  =======================================================================
:mod:`.mistakes`  misconceptions with how often they showed and could have
:mod:`.working`   how templates work: difficulty, discrimination, options nobody takes
:mod:`.talking`   who needs a talk, and about what
:mod:`.overview`  all of it together, with the cut scores that could have been
:mod:`.page`      one page without a script
:mod:`.report`   where it is written
================  =======================================================================
"""
