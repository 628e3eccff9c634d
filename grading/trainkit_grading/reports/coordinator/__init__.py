"""The coordinator's view: who is ready, what it rests on, who is late, and which module fails people.

==============  ==========================================================================
:mod:`.overview`  everything that the view says, as values
:mod:`.progress`  how cohorts get on, week by week
:mod:`.evidence`  what stands behind one person's results: answers, observation, session
:mod:`.page`      one page that filters and sorts by itself and asks nothing of any server
:mod:`.workbook`  the same as a spreadsheet
:mod:`.report`   where all of it is written
==============  ==========================================================================
"""
