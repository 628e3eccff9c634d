"""Second marking: a drawn sample of marks that people gave, marked again by somebody who does not see them.

===================  ===================================================================================
:mod:`.sampling`     which marks, drawn by a seed and by module, and on record before anybody marks
:mod:`.sheets`       what the second marker gets: a page to print, and a table to fill in
:mod:`.entering`     what the second marker gave, from the table to the ledger
:mod:`.comparing`    how far both agree, and where they differ so much that somebody decides
===================  ===================================================================================
"""
