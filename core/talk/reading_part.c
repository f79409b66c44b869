/* SPDX-License-Identifier: Apache-2.0 */
/* One side done and the other not: each told in a clause of its own. */
#include "core/talk/reading_inside.h"

typedef struct {
    int side;    /* the one that it names, SIDE_NONE for none or both */
    bool did;    /* it tells that something was done */
    bool rated;  /* or how it felt */
    bool denied; /* or not */
    bool sign;   /* or a warning sign */
    bool told;   /* it has words of its own besides */
} Clause;

static bool divides(const Work *work, int token)
{
    return token_level(work, token) >= LEVEL_CLAUSE || role_starts(work, ROLE_BUT, token) > 0 ||
           role_starts(work, ROLE_AND, token) > 0;
}

static void note_token(const Work *work, Clause *clause, int token)
{
    static const Role DONE[] = {ROLE_DID, ROLE_YES};
    static const Role DENIED[] = {ROLE_NO, ROLE_NOT_TODAY, ROLE_LATER};
    static const Role KNOWN[] = {ROLE_FILL, ROLE_LEAD,  ROLE_TAIL, ROLE_BREAK, ROLE_AND,
                                 ROLE_DID,  ROLE_YES,   ROLE_LEFT, ROLE_RIGHT, ROLE_THANKS,
                                 ROLE_BUT,  ROLE_TODAY, ROLE_SELF};
    const Number *number = number_over(work, token);

    if (role_covers(work, ROLE_LEFT, token)) clause->side |= SIDE_LEFT;
    if (role_covers(work, ROLE_RIGHT, token)) clause->side |= SIDE_RIGHT;
    clause->did |= role_covers_any(work, DONE, G_N_ELEMENTS(DONE), token);
    clause->rated |= number != NULL && number_rateable(number);
    clause->denied |= role_covers_any(work, DENIED, G_N_ELEMENTS(DENIED), token);
    for (int sign = ROLE_CRISIS; sign <= ROLE_FALL; sign++)
        clause->sign |= role_covers(work, (Role)sign, token);
    clause->told |= number == NULL && !role_covers_any(work, KNOWN, G_N_ELEMENTS(KNOWN), token);
}

bool report_parted(const Work *work)
{
    int done = 0, denied = 0, told = 0, count = token_count(work);
    bool did = false, whole = false; /* done in words; and of no side */

    if (!role_occurs(work, ROLE_LEFT) && !role_occurs(work, ROLE_RIGHT)) return false;
    for (int from = 0, to; from < count; from = to) {
        Clause clause = {0};
        for (to = from; to == from || (to < count && !divides(work, to)); to++)
            note_token(work, &clause, to);
        if (clause.side == (SIDE_LEFT | SIDE_RIGHT)) return false;
        if (clause.sign) continue;
        if (clause.denied) {
            denied |= clause.side;
        } else if (clause.did || clause.rated) {
            done |= clause.side;
            did |= clause.did && clause.side != SIDE_NONE;
            whole |= clause.did && clause.side == SIDE_NONE;
        } else if (clause.told) {
            told |= clause.side;
        }
    }
    if (done != SIDE_LEFT && done != SIDE_RIGHT) return false;
    return (denied | done) == (SIDE_LEFT | SIDE_RIGHT) ||
           (did && !whole && (told | done) == (SIDE_LEFT | SIDE_RIGHT));
}
