/* A venue of one sector, one kart, one post. Made from the rule table by `kerblight`; do not edit.
   The clauses of properties, by number:
   1 P1.1, 2 P1d.1, 3 P2.1, 4 P6.1, 5 P7.1, 6 P7.2, 7 P8.3, 8 P8.4, 9 P8.5, 10 P8.6, 11 P8.7, 12 P8.8, 13
       P8.10, 14 P8.11, 15 P9.1, 16 P12.1, 17 P14.1, 18 P14.2, 19 P15.1, 20 P15.2, 21 P16r.1, 22 P3.1, 23
       P13.1, 24 P20.1, 25 P20.8, 26 P20.9, 27 P20.10, 28 P21.1, 29 P34.1, 30 P11.1, 31 P14e.1, 32 P18.2, 33
       P20.2, 34 P34.2, 35 P20.3, 36 P20.6, 37 P20.7, 38 P20.11, 39 P28.6, 40 P28.7, 41 P34.3, 42 P34.5, 43
       P18.1, 44 P20.4, 45 P34.6, 46 P3.2, 47 P34.7, 48 P6e.1, 49 P20.5, 50 P34.8, 51 P34.9, 52 P5.1, 53 P4.1,
       54 P5.13, 55 P27.1, 56 P34.10, 57 P34.15, 58 P34.17, 59 P34.18, 60 P34.19, 61 P34.43, 62 P14.4, 63
       P15.16, 64 P5.4, 65 P12e.1, 66 P5.2, 67 P15.4, 68 P15.13, 69 P34.44, 70 P34.45, 71 P16.1, 72 P16.3, 73
       P34.16 */

#define phase_closed 0
#define phase_test 1
#define phase_staging 2
#define phase_armed 3
#define phase_racing 4
#define phase_finishing 5

#define latch_none 0
#define latch_stop 1
#define latch_recovery 2

#define stop_kind_incident 0
#define stop_kind_fire 1
#define stop_kind_medical 2
#define stop_kind_equipment 3
#define stop_kind_none 4

#define caution_kind_incident 0
#define caution_kind_person_on_track 1
#define caution_kind_equipment 2
#define caution_kind_none 3

#define monitor_health_ok 0
#define monitor_health_lost 1
#define monitor_health_tripped 2

#define head_health_ok 0
#define head_health_lost 1
#define head_health_out 2

#define spot_s1 0
#define spot_pit 1
#define spot_unknown 2
#define spot_aside 3

#define kart_call_none 0
#define kart_call_move_over 1
#define kart_call_disqualified 2

#define entry_adult 0
#define entry_none 1

#define journal_ok 0
#define journal_failed 1

#define aspect_red 0
#define aspect_yellow_flash 1
#define aspect_yellow 2
#define aspect_red_yellow 3
#define aspect_number 4
#define aspect_blue_flash 5
#define aspect_dark 6
#define aspect_green 7

#define kmh_0 0
#define kmh_5 1
#define kmh_8 2
#define kmh_12 3
#define kmh_15 4
#define kmh_22 5
#define kmh_28 6
#define kmh_32 7
#define kmh_45 8

unsigned phase : 3 = phase_closed;
bool ready = 0;
unsigned latch : 2 = latch_none;
unsigned stop_desk : 3 = stop_kind_none;
unsigned stop_E : 3 = stop_kind_none;
unsigned caution_s1_desk : 2 = caution_kind_none;
unsigned caution_s1_E : 2 = caution_kind_none;
unsigned caution_pit_E : 2 = caution_kind_none;
unsigned monitor : 2 = monitor_health_ok;
unsigned head_h1 : 2 = head_health_ok;
unsigned head_px1 : 2 = head_health_ok;
unsigned place_1 : 2 = spot_pit;
unsigned call_1 : 2 = kart_call_none;
unsigned entry_1 : 1 = entry_none;
unsigned journal : 1 = journal_ok;

/* What a move overwrites, and what follows from the state it makes, while it is judged. */
hidden byte was_phase;
hidden byte was_ready;
hidden byte was_latch;
hidden byte was_stop_desk;
hidden byte was_stop_E;
hidden byte was_caution_s1_desk;
hidden byte was_caution_s1_E;
hidden byte was_caution_pit_E;
hidden byte was_monitor;
hidden byte was_head_h1;
hidden byte was_head_px1;
hidden byte was_place_1;
hidden byte was_call_1;
hidden byte was_entry_1;
hidden byte was_journal;
hidden byte was_shows_h1;
hidden byte is_shows_h1;
hidden byte was_shows_px1;
hidden byte is_shows_px1;
hidden byte was_limit_1;
hidden byte is_limit_1;

#define cautioned_s1 (latch == latch_recovery || caution_s1_desk == caution_kind_incident || caution_s1_E == \
    caution_kind_equipment)
#define cautioned_pit (latch == latch_recovery || caution_pit_E == caution_kind_equipment)
#define pit_open (phase == phase_racing && latch == latch_none)
#define caution_at_unknown (cautioned_s1 || caution_pit_E == caution_kind_equipment)
#define shows_h1 ((latch == latch_stop -> aspect_red : ((phase == phase_closed || phase == phase_staging || \
    phase == phase_armed) && place_1 != spot_pit -> aspect_red : (cautioned_s1 -> aspect_yellow_flash : (phase \
    == phase_finishing -> aspect_red_yellow : (call_1 == kart_call_disqualified && place_1 != spot_pit -> \
    aspect_number : (call_1 == kart_call_move_over -> aspect_blue_flash : (phase == phase_racing -> \
    aspect_green : aspect_dark))))))))
#define shows_px1 ((latch == latch_stop -> aspect_red : (head_px1 != head_health_ok -> aspect_red : (!pit_open \
    -> aspect_red : ((phase == phase_closed || phase == phase_staging || phase == phase_armed) && place_1 != \
    spot_pit -> aspect_red : (cautioned_s1 -> aspect_yellow_flash : (phase == phase_finishing -> \
    aspect_red_yellow : (phase == phase_racing -> aspect_green : aspect_dark))))))))
#define limit_1 (((phase == phase_closed || phase == phase_staging || phase == phase_armed) && (place_1 == \
    spot_pit || place_1 == spot_unknown) -> kmh_0 : (phase != phase_closed && phase != phase_test && phase != \
    phase_staging && phase != phase_armed && (place_1 == spot_pit || place_1 == spot_unknown) -> kmh_0 : \
    (phase == phase_test -> kmh_0 : (latch == latch_stop -> kmh_0 : ((place_1 == spot_pit || place_1 == \
    spot_unknown) && phase != phase_test -> kmh_8 : (call_1 == kart_call_disqualified -> kmh_12 : ((phase == \
    phase_closed || phase == phase_staging || phase == phase_armed) && place_1 != spot_pit -> kmh_12 : (latch \
    == latch_recovery -> kmh_12 : (phase == phase_finishing -> kmh_15 : ((place_1 == spot_s1 && cautioned_s1) \
    || (place_1 == spot_unknown && caution_at_unknown) -> kmh_15 : ((place_1 == spot_s1 && cautioned_s1) || \
    (place_1 == spot_pit && cautioned_pit) || (place_1 == spot_unknown && caution_at_unknown) -> kmh_15 : \
    kmh_45))))))))))))
#define P20_2_1 (was_phase == phase_test && phase != phase_test && phase != phase_closed)
#define P3_1_1 (journal == journal_ok && place_1 == spot_pit && phase == phase_racing && (was_phase == \
    phase_closed || was_phase == phase_staging || was_phase == phase_finishing) && was_phase != phase_racing)
#define P13_1_1 (journal == journal_ok && place_1 == spot_pit && (was_phase == phase_closed || was_phase == \
    phase_staging || was_phase == phase_finishing) && was_phase != phase_test && phase != phase_test && \
    (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 == aspect_yellow_flash || \
    was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) || ((was_shows_px1 == aspect_red || \
    was_shows_px1 == aspect_yellow || was_shows_px1 == aspect_yellow_flash || was_shows_px1 == \
    aspect_red_yellow) && is_shows_px1 == aspect_green)))
#define P14e_1_1 (journal == journal_ok && place_1 == spot_pit && phase == phase_armed && (was_phase == \
    phase_closed || was_phase == phase_staging || was_phase == phase_finishing) && (stop_desk == \
    stop_kind_incident || stop_E == stop_kind_equipment || caution_s1_desk == caution_kind_incident || \
    caution_s1_E == caution_kind_equipment || caution_pit_E == caution_kind_equipment))
#define P20_1_1 (journal == journal_ok && place_1 == spot_pit && was_phase == phase_closed && phase != \
    phase_closed && phase != phase_test && phase != phase_staging)
#define P20_3_1 (journal == journal_ok && place_1 == spot_pit && was_phase == phase_staging && phase != \
    phase_staging && phase != phase_armed && phase != phase_closed)
#define P20_6_1 (journal == journal_ok && place_1 == spot_pit && was_phase == phase_finishing && phase != \
    phase_finishing && phase != phase_staging && phase != phase_closed)
#define P20_7_1 (journal == journal_ok && place_1 == spot_pit && phase == phase_test && (was_phase == \
    phase_closed || was_phase == phase_staging || was_phase == phase_finishing) && was_phase != phase_test)
#define P20_9_1 (journal == journal_ok && place_1 == spot_pit && phase == phase_armed && (was_phase == \
    phase_closed || was_phase == phase_staging || was_phase == phase_finishing) && was_phase != phase_armed)
#define P20_10_1 (journal == journal_ok && place_1 == spot_pit && phase == phase_finishing && (was_phase == \
    phase_closed || was_phase == phase_staging) && was_phase != phase_finishing)
#define P20_11_1 (journal == journal_ok && place_1 == spot_pit && phase == phase_closed && (was_phase == \
    phase_staging || was_phase == phase_finishing) && was_phase != phase_closed && was_phase != phase_test)
#define P28_6_1 (journal == journal_ok && place_1 == spot_pit && call_1 == kart_call_disqualified && \
    (was_phase == phase_closed || was_phase == phase_staging || was_phase == phase_finishing) && was_call_1 != \
    kart_call_disqualified)
#define P28_7_1 (journal == journal_ok && place_1 == spot_pit && call_1 == kart_call_move_over && (was_phase \
    == phase_closed || was_phase == phase_staging || was_phase == phase_finishing) && was_call_1 != \
    kart_call_move_over)
#define P34_3_1 (journal == journal_ok && place_1 == spot_pit && (was_phase == phase_closed || was_phase == \
    phase_staging || was_phase == phase_finishing) && (phase != phase_staging || call_1 != kart_call_none))
#define P13_1_2 (journal == journal_ok && (phase == phase_staging || phase == phase_racing) && phase != \
    phase_test && (((shows_h1 == aspect_red || shows_h1 == aspect_yellow || shows_h1 == aspect_yellow_flash || \
    shows_h1 == aspect_red_yellow) && shows_h1 == aspect_green) || ((shows_px1 == aspect_red || shows_px1 == \
    aspect_yellow || shows_px1 == aspect_yellow_flash || shows_px1 == aspect_red_yellow) && shows_px1 == \
    aspect_green)))
#define P3_1_2 (was_phase == phase_armed && phase == phase_racing)
#define P11_1_1 (was_phase == phase_armed && phase == phase_closed && place_1 != spot_pit)
#define P13_1_3 (was_phase == phase_armed && phase != phase_test && (((was_shows_h1 == aspect_red || \
    was_shows_h1 == aspect_yellow || was_shows_h1 == aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) \
    && is_shows_h1 == aspect_green) || ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow || \
    was_shows_px1 == aspect_yellow_flash || was_shows_px1 == aspect_red_yellow) && is_shows_px1 == \
    aspect_green)))
#define P14e_1_2 (was_phase == phase_armed && phase == phase_armed && (stop_desk == stop_kind_incident || \
    stop_E == stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E == \
    caution_kind_equipment || caution_pit_E == caution_kind_equipment))
#define P18_1_1 (was_phase == phase_armed && phase != phase_test && ((!(is_shows_h1 <= was_shows_h1) && \
    was_shows_h1 != aspect_blue_flash) || (!(is_shows_px1 <= was_shows_px1) && was_shows_px1 != \
    aspect_blue_flash)))
#define P18_2_1 (was_phase == phase_armed && !(is_limit_1 <= was_limit_1))
#define P20_4_1 (was_phase == phase_armed && phase != phase_armed && phase != phase_staging && phase != \
    phase_racing)
#define P20_7_2 (was_phase == phase_armed && phase == phase_test)
#define P20_10_2 (was_phase == phase_armed && phase == phase_finishing)
#define P20_11_2 (was_phase == phase_armed && phase == phase_closed)
#define P34_6_1 (was_phase == phase_armed && phase == phase_armed)
#define P20_5_1 (was_phase == phase_racing && phase != phase_racing && phase != phase_finishing)
#define P3_1_3 (phase == phase_racing && was_phase != phase_racing)
#define P5_1_1 (was_latch == latch_recovery && latch != latch_recovery && latch != latch_stop)
#define P6e_1_1 (was_call_1 == kart_call_disqualified && call_1 != kart_call_disqualified && place_1 != \
    spot_pit)
#define P11_1_2 (phase == phase_closed && was_phase != phase_closed && place_1 != spot_pit)
#define P13_1_4 (was_phase != phase_test && phase != phase_test && (((was_shows_h1 == aspect_red || \
    was_shows_h1 == aspect_yellow || was_shows_h1 == aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) \
    && is_shows_h1 == aspect_green) || ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow || \
    was_shows_px1 == aspect_yellow_flash || was_shows_px1 == aspect_red_yellow) && is_shows_px1 == \
    aspect_green)))
#define P18_1_2 (was_phase != phase_test && phase != phase_test && ((!(is_shows_h1 <= was_shows_h1) && \
    was_shows_h1 != aspect_blue_flash) || (!(is_shows_px1 <= was_shows_px1) && was_shows_px1 != \
    aspect_blue_flash)))
#define P20_1_2 (was_phase == phase_closed && phase != phase_closed && phase != phase_test && phase != \
    phase_staging)
#define P20_3_2 (was_phase == phase_staging && phase != phase_staging && phase != phase_armed && phase != \
    phase_closed)
#define P20_6_2 (was_phase == phase_finishing && phase != phase_finishing && phase != phase_staging && phase \
    != phase_closed)
#define P20_7_3 (phase == phase_test && was_phase != phase_test)
#define P20_8_1 (phase == phase_staging && was_phase != phase_staging && was_phase != phase_armed)
#define P20_9_2 (phase == phase_armed && was_phase != phase_armed)
#define P20_10_3 (phase == phase_finishing && was_phase != phase_finishing)
#define P20_11_3 (phase == phase_closed && was_phase != phase_closed && was_phase != phase_test)
#define P28_6_2 (call_1 == kart_call_disqualified && was_call_1 != kart_call_disqualified)
#define P28_7_2 (call_1 == kart_call_move_over && was_call_1 != kart_call_move_over)
#define P13_1_5 (phase != phase_test && (((shows_h1 == aspect_red || shows_h1 == aspect_yellow || shows_h1 == \
    aspect_yellow_flash || shows_h1 == aspect_red_yellow) && shows_h1 == aspect_green) || ((shows_px1 == \
    aspect_red || shows_px1 == aspect_yellow || shows_px1 == aspect_yellow_flash || shows_px1 == \
    aspect_red_yellow) && shows_px1 == aspect_green)))
#define P14e_1_3 (phase == phase_armed && (stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || \
    caution_s1_desk == caution_kind_incident || caution_s1_E == caution_kind_equipment || caution_pit_E == \
    caution_kind_equipment))
#define P5_4_1 ((was_caution_s1_E == caution_kind_equipment && caution_s1_E == caution_kind_none) || \
    (was_caution_pit_E == caution_kind_equipment && caution_pit_E == caution_kind_none))
#define P6e_1_2 (was_call_1 == kart_call_disqualified && call_1 != kart_call_disqualified && was_place_1 != \
    spot_pit)
#define P11_1_3 (phase == phase_closed && was_phase != phase_closed && was_place_1 != spot_pit)
#define P14e_1_4 (phase == phase_armed && (stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || \
    caution_s1_desk == caution_kind_incident || caution_s1_E != caution_kind_none || caution_pit_E != \
    caution_kind_none))
#define P4_1_1 (stop_E == stop_kind_none && was_stop_E == stop_kind_equipment && stop_desk != \
    stop_kind_incident && (latch != latch_recovery || phase != was_phase))
#define P5_2_1 (was_stop_E == stop_kind_equipment && stop_E == stop_kind_none)
#define P12e_1_1 (was_place_1 == spot_pit && stop_E == stop_kind_none && (was_phase != phase_racing || \
    was_latch != latch_none))
#define P14e_1_5 (phase == phase_armed && (stop_desk == stop_kind_incident || stop_E != stop_kind_none || \
    caution_s1_desk == caution_kind_incident || caution_s1_E == caution_kind_equipment || caution_pit_E == \
    caution_kind_equipment))
#define P13_1_6 (phase != phase_test && (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow || \
    was_shows_h1 == aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) \
    || ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow || was_shows_px1 == aspect_yellow_flash \
    || was_shows_px1 == aspect_red_yellow) && is_shows_px1 == aspect_green)))

active proctype controller()
{
    do
    :: d_step { ((shows_h1 == aspect_green && phase != phase_test && (!pit_open || stop_desk ==
        stop_kind_incident || stop_E == stop_kind_equipment || monitor != monitor_health_ok || place_1 ==
        spot_unknown || head_h1 != head_health_ok || caution_s1_desk == caution_kind_incident || caution_s1_E
        == caution_kind_equipment)) || (shows_px1 == aspect_green && phase != phase_test && (!pit_open ||
        stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || monitor != monitor_health_ok ||
        place_1 == spot_unknown || head_px1 != head_health_ok || caution_s1_desk == caution_kind_incident ||
        caution_s1_E == caution_kind_equipment))) -> assert(1 == 0) }
    :: d_step { ((shows_h1 == aspect_dark && phase != phase_test && (phase == phase_racing || phase ==
        phase_finishing || stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || place_1 !=
        spot_pit)) || (shows_px1 == aspect_dark && phase != phase_test && (phase == phase_racing || phase ==
        phase_finishing || stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || place_1 !=
        spot_pit))) -> assert(2 == 0) }
    :: d_step { (((stop_desk == stop_kind_incident || stop_E == stop_kind_equipment) && (shows_h1 !=
        aspect_red || shows_px1 != aspect_red)) || ((stop_desk == stop_kind_incident || stop_E ==
        stop_kind_equipment) && (shows_h1 != aspect_red || shows_px1 != aspect_red || !(limit_1 <= kmh_0))))
        -> assert(3 == 0) }
    :: d_step { (call_1 == kart_call_disqualified && !(limit_1 <= kmh_12)) -> assert(4 == 0) }
    :: d_step { (phase != phase_test && (((shows_h1 == aspect_number || shows_h1 == aspect_blue_flash) &&
        (cautioned_s1 || stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || phase ==
        phase_finishing)) || ((shows_px1 == aspect_number || shows_px1 == aspect_blue_flash) && (cautioned_s1
        || stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || phase == phase_finishing)))) ->
        assert(5 == 0) }
    :: d_step { (call_1 == kart_call_move_over && (!pit_open || place_1 == spot_pit || place_1 == spot_unknown
        || stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || (place_1 == spot_s1 &&
        caution_s1_desk == caution_kind_incident) || (place_1 == spot_s1 && caution_s1_E ==
        caution_kind_equipment))) -> assert(6 == 0) }
    :: d_step { ((place_1 == spot_pit || place_1 == spot_unknown) && phase != phase_test && !(limit_1 <=
        kmh_0)) -> assert(7 == 0) }
    :: d_step { ((place_1 == spot_pit || place_1 == spot_unknown) && phase != phase_test && !(limit_1 <=
        kmh_8)) -> assert(8 == 0) }
    :: d_step { ((phase == phase_closed || phase == phase_staging || phase == phase_armed) && place_1 !=
        spot_pit && !(limit_1 <= kmh_12)) -> assert(9 == 0) }
    :: d_step { (latch == latch_recovery && !(limit_1 <= kmh_12)) -> assert(10 == 0) }
    :: d_step { (((cautioned_s1 && (place_1 == spot_s1 || place_1 == spot_unknown)) || (cautioned_pit &&
        (place_1 == spot_pit || place_1 == spot_unknown))) && !(limit_1 <= kmh_15)) -> assert(11 == 0) }
    :: d_step { (((cautioned_s1 && (place_1 == spot_s1 || place_1 == spot_unknown)) || (cautioned_pit &&
        (place_1 == spot_pit || place_1 == spot_unknown))) && !(limit_1 <= kmh_15)) -> assert(12 == 0) }
    :: d_step { (phase == phase_finishing && !(limit_1 <= kmh_15)) -> assert(13 == 0) }
    :: d_step { (!(limit_1 <= kmh_45)) -> assert(14 == 0) }
    :: d_step { (monitor == monitor_health_tripped && stop_E != stop_kind_equipment) -> assert(15 == 0) }
    :: d_step { (phase != phase_test && (!pit_open || stop_desk == stop_kind_incident || stop_E ==
        stop_kind_equipment) && shows_px1 != aspect_red) -> assert(16 == 0) }
    :: d_step { (phase == phase_armed && (entry_1 != entry_adult || !ready || monitor != monitor_health_ok ||
        head_h1 != head_health_ok || head_px1 != head_health_ok || latch != latch_none || stop_desk ==
        stop_kind_incident || stop_E == stop_kind_equipment || caution_s1_desk == caution_kind_incident ||
        caution_s1_E == caution_kind_equipment || caution_pit_E == caution_kind_equipment || place_1 !=
        spot_pit || (entry_1 == entry_adult && call_1 == kart_call_disqualified) || journal != journal_ok)) ->
        assert(17 == 0) }
    :: d_step { (phase == phase_test && (latch != latch_none || stop_desk == stop_kind_incident || stop_E ==
        stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E ==
        caution_kind_equipment || caution_pit_E == caution_kind_equipment || place_1 != spot_pit)) ->
        assert(18 == 0) }
    :: d_step { ((head_h1 != head_health_ok && caution_s1_E != caution_kind_equipment) || (head_px1 !=
        head_health_ok && caution_s1_E != caution_kind_equipment)) -> assert(19 == 0) }
    :: d_step { ((place_1 == spot_unknown || monitor == monitor_health_lost) && (caution_s1_E !=
        caution_kind_equipment || caution_pit_E != caution_kind_equipment)) -> assert(20 == 0) }
    :: d_step { ((latch != latch_stop || (stop_desk != stop_kind_incident && stop_E != stop_kind_equipment))
        && (latch == latch_stop || stop_desk == stop_kind_incident || stop_E == stop_kind_equipment)) ->
        assert(21 == 0) }
    :: d_step { (!caution_at_unknown && phase == phase_closed && journal == journal_ok && place_1 == spot_pit
        && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment) ->
        printf("lend\n");
        was_phase = phase;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_closed -> phase_test : was_phase);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && phase == phase_racing && stop_desk != stop_kind_incident && stop_E !=
            stop_kind_equipment) -> assert(22 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && phase !=
            phase_test && (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 ==
            aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) ||
            ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow || was_shows_px1 ==
            aspect_yellow_flash || was_shows_px1 == aspect_red_yellow) && is_shows_px1 == aspect_green))) ->
            assert(23 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && phase !=
            phase_closed && phase != phase_test && phase != phase_staging) -> assert(24 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && phase == phase_staging && stop_desk != stop_kind_incident && stop_E !=
            stop_kind_equipment) -> assert(25 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && phase == phase_armed && stop_desk != stop_kind_incident && stop_E !=
            stop_kind_equipment) -> assert(26 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && phase == phase_finishing && stop_desk != stop_kind_incident && stop_E !=
            stop_kind_equipment) -> assert(27 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && phase == phase_closed && stop_desk != stop_kind_incident && stop_E !=
            stop_kind_equipment && is_shows_h1 == was_shows_h1 && is_shows_px1 == was_shows_px1 && is_limit_1
            == was_limit_1) -> assert(28 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_closed && journal == journal_ok && place_1 ==
            spot_pit && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && phase !=
            phase_test) -> assert(29 == 0) :: else fi;
    }
    :: d_step { (phase == phase_test) ->
        printf("give-back\n");
        was_phase = phase;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_test -> phase_closed : was_phase);
        is_limit_1 = limit_1;
        if :: (was_phase == phase_test && phase == phase_racing) -> assert(22 == 0) :: else fi;
        if :: (was_phase == phase_test && phase == phase_closed && place_1 != spot_pit) -> assert(30 == 0) ::
            else fi;
        if :: (was_phase == phase_test && phase == phase_armed && (stop_desk == stop_kind_incident || stop_E
            == stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
        if :: (was_phase == phase_test && !(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (was_phase == phase_test && phase == phase_staging) -> assert(25 == 0) :: else fi;
        if :: (was_phase == phase_test && phase == phase_armed) -> assert(26 == 0) :: else fi;
        if :: (was_phase == phase_test && phase == phase_finishing) -> assert(27 == 0) :: else fi;
        if :: (was_phase == phase_test && phase != phase_closed) -> assert(34 == 0) :: else fi;
    }
    :: d_step { ((phase == phase_closed || phase == phase_staging || phase == phase_finishing) && journal ==
        journal_ok && place_1 == spot_pit) ->
        printf("stage not-complete staged[0]=adult\n");
        was_phase = phase;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        entry_1 = entry_adult;
        ready = 0;
        phase = (was_phase == phase_finishing -> phase_staging : (was_phase == phase_staging -> phase_staging
            : (was_phase == phase_closed -> phase_staging : was_phase)));
        call_1 = (was_call_1 == kart_call_disqualified -> kart_call_none : (was_call_1 == kart_call_move_over
            -> kart_call_none : was_call_1));
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_1) -> assert(22 == 0) :: else fi;
        if :: (P13_1_1) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_1) -> assert(31 == 0) :: else fi;
        if :: (P20_1_1) -> assert(24 == 0) :: else fi;
        if :: (P20_3_1) -> assert(35 == 0) :: else fi;
        if :: (P20_6_1) -> assert(36 == 0) :: else fi;
        if :: (P20_7_1) -> assert(37 == 0) :: else fi;
        if :: (P20_9_1) -> assert(26 == 0) :: else fi;
        if :: (P20_10_1) -> assert(27 == 0) :: else fi;
        if :: (P20_11_1) -> assert(38 == 0) :: else fi;
        if :: (P28_6_1) -> assert(39 == 0) :: else fi;
        if :: (P28_7_1) -> assert(40 == 0) :: else fi;
        if :: (P34_3_1) -> assert(41 == 0) :: else fi;
    }
    :: d_step { ((phase == phase_closed || phase == phase_staging || phase == phase_finishing) && journal ==
        journal_ok && place_1 == spot_pit) ->
        printf("stage complete staged[0]=adult\n");
        was_phase = phase;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        entry_1 = entry_adult;
        ready = 1;
        phase = (was_phase == phase_finishing -> phase_staging : (was_phase == phase_staging -> phase_staging
            : (was_phase == phase_closed -> phase_staging : was_phase)));
        call_1 = (was_call_1 == kart_call_disqualified -> kart_call_none : (was_call_1 == kart_call_move_over
            -> kart_call_none : was_call_1));
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_1) -> assert(22 == 0) :: else fi;
        if :: (P13_1_1) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_1) -> assert(31 == 0) :: else fi;
        if :: (P20_1_1) -> assert(24 == 0) :: else fi;
        if :: (P20_3_1) -> assert(35 == 0) :: else fi;
        if :: (P20_6_1) -> assert(36 == 0) :: else fi;
        if :: (P20_7_1) -> assert(37 == 0) :: else fi;
        if :: (P20_9_1) -> assert(26 == 0) :: else fi;
        if :: (P20_10_1) -> assert(27 == 0) :: else fi;
        if :: (P20_11_1) -> assert(38 == 0) :: else fi;
        if :: (P28_6_1) -> assert(39 == 0) :: else fi;
        if :: (P28_7_1) -> assert(40 == 0) :: else fi;
        if :: (P34_3_1) -> assert(41 == 0) :: else fi;
    }
    :: d_step { ((phase == phase_staging || phase == phase_racing) && journal == journal_ok) ->
        printf("confirm item=briefing not-complete\n");
        ready = 0;
        if :: (P13_1_2) -> assert(23 == 0) :: else fi;
    }
    :: d_step { ((phase == phase_staging || phase == phase_racing) && journal == journal_ok) ->
        printf("confirm item=briefing complete\n");
        ready = 1;
        if :: (P13_1_2) -> assert(23 == 0) :: else fi;
    }
    :: d_step { (!caution_at_unknown && phase == phase_staging && journal == journal_ok && stop_desk !=
        stop_kind_incident && stop_E != stop_kind_equipment && head_h1 == head_health_ok && head_px1 ==
        head_health_ok && monitor != monitor_health_lost && monitor != monitor_health_tripped && place_1 ==
        spot_pit && ready && (entry_1 != entry_adult || call_1 != kart_call_disqualified) && entry_1 ==
        entry_adult) ->
        printf("arm\n");
        was_phase = phase;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_staging -> phase_armed : was_phase);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_racing && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified) -> assert(22 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost
            && monitor != monitor_health_tripped && ready && call_1 != kart_call_disqualified && phase !=
            phase_test && (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 ==
            aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) ||
            ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow || was_shows_px1 ==
            aspect_yellow_flash || was_shows_px1 == aspect_red_yellow) && is_shows_px1 == aspect_green))) ->
            assert(23 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost
            && monitor != monitor_health_tripped && ready && call_1 != kart_call_disqualified && phase !=
            phase_staging && phase != phase_armed && phase != phase_closed) -> assert(35 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_test && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor
            != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified) -> assert(37 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_finishing && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified) -> assert(27 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_closed && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified) -> assert(38 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_staging && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified && is_shows_h1 == was_shows_h1 && is_shows_px1 == was_shows_px1 &&
            is_limit_1 == was_limit_1) -> assert(28 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_staging && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost
            && monitor != monitor_health_tripped && ready && call_1 != kart_call_disqualified && phase !=
            phase_armed) -> assert(42 == 0) :: else fi;
    }
    :: d_step { (phase == phase_armed) ->
        printf("disarm\n");
        was_phase = phase;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_armed -> phase_staging : was_phase);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_2) -> assert(22 == 0) :: else fi;
        if :: (P11_1_1) -> assert(30 == 0) :: else fi;
        if :: (P13_1_3) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_2) -> assert(31 == 0) :: else fi;
        if :: (P18_1_1) -> assert(43 == 0) :: else fi;
        if :: (P18_2_1) -> assert(32 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_7_2) -> assert(37 == 0) :: else fi;
        if :: (P20_10_2) -> assert(27 == 0) :: else fi;
        if :: (P20_11_2) -> assert(38 == 0) :: else fi;
        if :: (P34_6_1) -> assert(45 == 0) :: else fi;
    }
    :: d_step { (!caution_at_unknown && phase == phase_armed && journal == journal_ok && stop_desk !=
        stop_kind_incident && stop_E != stop_kind_equipment && head_h1 == head_health_ok && head_px1 ==
        head_health_ok && monitor != monitor_health_lost && monitor != monitor_health_tripped && place_1 ==
        spot_pit && ready && (entry_1 != entry_adult || call_1 != kart_call_disqualified) && entry_1 ==
        entry_adult) ->
        printf("start\n");
        was_phase = phase;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_armed -> phase_racing : was_phase);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (!caution_at_unknown && was_phase == phase_armed && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost
            && monitor != monitor_health_tripped && ready && call_1 != kart_call_disqualified && (monitor !=
            monitor_health_ok || latch != latch_none)) -> assert(46 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_armed && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost
            && monitor != monitor_health_tripped && ready && call_1 != kart_call_disqualified && phase !=
            phase_armed && phase != phase_staging && phase != phase_racing) -> assert(44 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_armed && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_test && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor
            != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified) -> assert(37 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_armed && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_finishing && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified) -> assert(27 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_armed && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_closed && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified) -> assert(38 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_armed && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            phase == phase_armed && stop_desk != stop_kind_incident && stop_E != stop_kind_equipment &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && ready && call_1 !=
            kart_call_disqualified && is_shows_h1 == was_shows_h1 && is_shows_px1 == was_shows_px1 &&
            is_limit_1 == was_limit_1) -> assert(28 == 0) :: else fi;
        if :: (!caution_at_unknown && was_phase == phase_armed && journal == journal_ok && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && place_1 == spot_pit && entry_1 == entry_adult &&
            stop_desk != stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost
            && monitor != monitor_health_tripped && ready && call_1 != kart_call_disqualified && phase !=
            phase_racing) -> assert(47 == 0) :: else fi;
    }
    :: d_step { (phase == phase_racing) ->
        printf("finish\n");
        was_phase = phase;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_racing -> phase_finishing : was_phase);
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (was_phase == phase_racing && was_call_1 == kart_call_disqualified && call_1 !=
            kart_call_disqualified && place_1 != spot_pit) -> assert(48 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase == phase_closed && place_1 != spot_pit) -> assert(30 == 0)
            :: else fi;
        if :: (was_phase == phase_racing && phase != phase_test && (((was_shows_h1 == aspect_red ||
            was_shows_h1 == aspect_yellow || was_shows_h1 == aspect_yellow_flash || was_shows_h1 ==
            aspect_red_yellow) && is_shows_h1 == aspect_green) || ((was_shows_px1 == aspect_red ||
            was_shows_px1 == aspect_yellow || was_shows_px1 == aspect_yellow_flash || was_shows_px1 ==
            aspect_red_yellow) && is_shows_px1 == aspect_green))) -> assert(23 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase == phase_armed && (stop_desk == stop_kind_incident || stop_E
            == stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase != phase_test && ((!(is_shows_h1 <= was_shows_h1) &&
            was_shows_h1 != aspect_blue_flash) || (!(is_shows_px1 <= was_shows_px1) && was_shows_px1 !=
            aspect_blue_flash))) -> assert(43 == 0) :: else fi;
        if :: (was_phase == phase_racing && !(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase == phase_test) -> assert(37 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase == phase_staging) -> assert(25 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase == phase_armed) -> assert(26 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase == phase_closed) -> assert(38 == 0) :: else fi;
        if :: (was_phase == phase_racing && call_1 == kart_call_disqualified && was_call_1 !=
            kart_call_disqualified) -> assert(39 == 0) :: else fi;
        if :: (was_phase == phase_racing && call_1 == kart_call_move_over && was_call_1 !=
            kart_call_move_over) -> assert(40 == 0) :: else fi;
        if :: (was_phase == phase_racing && phase != phase_finishing) -> assert(50 == 0) :: else fi;
    }
    :: d_step { ((phase == phase_staging || phase == phase_finishing) && journal == journal_ok && place_1 ==
        spot_pit) ->
        printf("close\n");
        was_phase = phase;
        was_ready = ready;
        was_entry_1 = entry_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        entry_1 = entry_none;
        ready = 0;
        phase = (was_phase == phase_finishing -> phase_closed : (was_phase == phase_staging -> phase_closed :
            was_phase));
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (journal == journal_ok && place_1 == spot_pit && phase == phase_racing && (was_phase ==
            phase_staging || was_phase == phase_finishing) && was_phase != phase_racing) -> assert(22 == 0) ::
            else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && (was_phase == phase_staging || was_phase ==
            phase_finishing) && was_phase != phase_test && phase != phase_test && (((was_shows_h1 ==
            aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 == aspect_yellow_flash || was_shows_h1
            == aspect_red_yellow) && is_shows_h1 == aspect_green) || ((was_shows_px1 == aspect_red ||
            was_shows_px1 == aspect_yellow || was_shows_px1 == aspect_yellow_flash || was_shows_px1 ==
            aspect_red_yellow) && is_shows_px1 == aspect_green))) -> assert(23 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && phase == phase_armed && (was_phase ==
            phase_staging || was_phase == phase_finishing) && (stop_desk == stop_kind_incident || stop_E ==
            stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
        if :: (P20_3_1) -> assert(35 == 0) :: else fi;
        if :: (P20_6_1) -> assert(36 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && phase == phase_test && (was_phase ==
            phase_staging || was_phase == phase_finishing) && was_phase != phase_test) -> assert(37 == 0) ::
            else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && phase == phase_staging && was_phase ==
            phase_finishing) -> assert(25 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && phase == phase_armed && (was_phase ==
            phase_staging || was_phase == phase_finishing) && was_phase != phase_armed) -> assert(26 == 0) ::
            else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && phase == phase_finishing && was_phase ==
            phase_staging) -> assert(27 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && !was_ready && (was_phase == phase_staging ||
            was_phase == phase_finishing) && was_entry_1 != entry_adult && phase == was_phase && is_shows_h1
            == was_shows_h1 && is_shows_px1 == was_shows_px1 && is_limit_1 == was_limit_1) -> assert(28 == 0)
            :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && (was_phase == phase_staging || was_phase ==
            phase_finishing) && phase != phase_closed) -> assert(51 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("stop kind=incident post=desk\n");
        was_phase = phase;
        was_latch = latch;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        stop_desk = stop_kind_incident;
        latch = (was_latch == latch_stop -> latch_stop : (was_latch == latch_recovery -> latch_stop :
            (was_latch == latch_none -> latch_stop : was_latch)));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("caution where=s1 kind=incident post=desk\n");
        was_phase = phase;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        caution_s1_desk = caution_kind_incident;
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (place_1 == spot_s1 && was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && stop_desk == stop_kind_incident && monitor !=
        monitor_health_tripped) ->
        printf("lift-stop placer=desk\n");
        was_latch = latch;
        was_stop_desk = stop_desk;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        stop_desk = stop_kind_none;
        latch = (stop_E != stop_kind_equipment && was_latch == latch_stop -> latch_recovery : was_latch);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (journal == journal_ok && was_stop_desk == stop_kind_incident && monitor !=
            monitor_health_tripped && stop_E != stop_kind_equipment && latch != latch_recovery) -> assert(53
            == 0) :: else fi;
        if :: (journal == journal_ok && was_stop_desk == stop_kind_incident && was_latch == latch_recovery &&
            monitor != monitor_health_tripped && latch != latch_recovery && latch != latch_stop) -> assert(52
            == 0) :: else fi;
        if :: (journal == journal_ok && was_stop_desk == stop_kind_incident && monitor !=
            monitor_health_tripped && phase != phase_test && (((was_shows_h1 == aspect_red || was_shows_h1 ==
            aspect_yellow || was_shows_h1 == aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) &&
            is_shows_h1 == aspect_green) || ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow ||
            was_shows_px1 == aspect_yellow_flash || was_shows_px1 == aspect_red_yellow) && is_shows_px1 ==
            aspect_green))) -> assert(23 == 0) :: else fi;
        if :: (journal == journal_ok && was_stop_desk == stop_kind_incident && phase == phase_armed && monitor
            != monitor_health_tripped && (stop_E == stop_kind_equipment || caution_s1_desk ==
            caution_kind_incident || caution_s1_E == caution_kind_equipment || caution_pit_E ==
            caution_kind_equipment)) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && stop_E == stop_kind_equipment && monitor != monitor_health_tripped)
        ->
        printf("lift-stop placer=E\n");
        was_latch = latch;
        was_stop_E = stop_E;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        stop_E = stop_kind_none;
        latch = (stop_desk != stop_kind_incident && was_latch == latch_stop -> latch_recovery : was_latch);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (journal == journal_ok && was_stop_E == stop_kind_equipment && monitor != monitor_health_tripped
            && stop_desk != stop_kind_incident && latch != latch_recovery) -> assert(53 == 0) :: else fi;
        if :: (journal == journal_ok && was_stop_E == stop_kind_equipment && was_latch == latch_recovery &&
            monitor != monitor_health_tripped && latch != latch_recovery && latch != latch_stop) -> assert(52
            == 0) :: else fi;
        if :: (journal == journal_ok && was_stop_E == stop_kind_equipment && monitor != monitor_health_tripped
            && phase != phase_test && (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow ||
            was_shows_h1 == aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) && is_shows_h1 ==
            aspect_green) || ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow || was_shows_px1
            == aspect_yellow_flash || was_shows_px1 == aspect_red_yellow) && is_shows_px1 == aspect_green)))
            -> assert(23 == 0) :: else fi;
        if :: (journal == journal_ok && was_stop_E == stop_kind_equipment && phase == phase_armed && monitor
            != monitor_health_tripped && (stop_desk == stop_kind_incident || caution_s1_desk ==
            caution_kind_incident || caution_s1_E == caution_kind_equipment || caution_pit_E ==
            caution_kind_equipment)) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && caution_s1_desk == caution_kind_incident) ->
        printf("lift-caution where=s1 placer=desk\n");
        was_caution_s1_desk = caution_s1_desk;
        caution_s1_desk = caution_kind_none;
        if :: (journal == journal_ok && was_caution_s1_desk == caution_kind_incident && phase == phase_armed
            && (stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || caution_s1_E ==
            caution_kind_equipment || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && caution_s1_E == caution_kind_equipment && monitor !=
        monitor_health_lost && monitor != monitor_health_tripped && head_h1 == head_health_ok && head_px1 ==
        head_health_ok && place_1 != spot_unknown) ->
        printf("lift-caution where=s1 placer=E\n");
        was_caution_s1_E = caution_s1_E;
        caution_s1_E = caution_kind_none;
        if :: (journal == journal_ok && was_caution_s1_E == caution_kind_equipment && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && monitor != monitor_health_lost && monitor !=
            monitor_health_tripped && place_1 != spot_unknown && monitor != monitor_health_ok) -> assert(54 ==
            0) :: else fi;
        if :: (journal == journal_ok && was_caution_s1_E == caution_kind_equipment && head_h1 ==
            head_health_ok && head_px1 == head_health_ok && phase == phase_armed && monitor !=
            monitor_health_lost && monitor != monitor_health_tripped && place_1 != spot_unknown && (stop_desk
            == stop_kind_incident || stop_E == stop_kind_equipment || caution_s1_desk == caution_kind_incident
            || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && caution_pit_E == caution_kind_equipment && monitor !=
        monitor_health_lost && monitor != monitor_health_tripped && place_1 != spot_unknown) ->
        printf("lift-caution where=pit placer=E\n");
        was_caution_pit_E = caution_pit_E;
        caution_pit_E = caution_kind_none;
        if :: (journal == journal_ok && was_caution_pit_E == caution_kind_equipment && monitor !=
            monitor_health_lost && monitor != monitor_health_tripped && place_1 != spot_unknown && monitor !=
            monitor_health_ok) -> assert(54 == 0) :: else fi;
        if :: (journal == journal_ok && was_caution_pit_E == caution_kind_equipment && phase == phase_armed &&
            monitor != monitor_health_lost && monitor != monitor_health_tripped && place_1 != spot_unknown &&
            (stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || caution_s1_desk ==
            caution_kind_incident || caution_s1_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && latch != latch_none && caution_s1_desk != caution_kind_incident &&
        caution_s1_E != caution_kind_equipment && caution_pit_E != caution_kind_equipment && stop_desk !=
        stop_kind_incident && stop_E != stop_kind_equipment && head_h1 == head_health_ok && head_px1 ==
        head_health_ok && monitor != monitor_health_lost && monitor != monitor_health_tripped) ->
        printf("clear\n");
        was_latch = latch;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        latch = (was_latch == latch_recovery -> latch_none : was_latch);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (journal == journal_ok && head_h1 == head_health_ok && head_px1 == head_health_ok && was_latch
            != latch_none && caution_s1_desk != caution_kind_incident && caution_s1_E !=
            caution_kind_equipment && caution_pit_E != caution_kind_equipment && stop_desk !=
            stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost && monitor
            != monitor_health_tripped && latch == was_latch && is_shows_h1 == was_shows_h1 && is_shows_px1 ==
            was_shows_px1 && is_limit_1 == was_limit_1) -> assert(28 == 0) :: else fi;
        if :: ((journal == journal_ok && head_h1 == head_health_ok && head_px1 == head_health_ok && was_latch
            != latch_none && caution_s1_desk != caution_kind_incident && caution_s1_E !=
            caution_kind_equipment && caution_pit_E != caution_kind_equipment && stop_desk !=
            stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost && monitor
            != monitor_health_tripped && (was_latch != latch_recovery || monitor != monitor_health_ok)) ||
            (journal == journal_ok && head_h1 == head_health_ok && head_px1 == head_health_ok && was_latch !=
            latch_none && caution_s1_desk != caution_kind_incident && caution_s1_E != caution_kind_equipment
            && caution_pit_E != caution_kind_equipment && stop_desk != stop_kind_incident && stop_E !=
            stop_kind_equipment && entry_1 != entry_adult && place_1 == spot_pit && monitor !=
            monitor_health_lost && monitor != monitor_health_tripped && (was_latch != latch_recovery ||
            monitor != monitor_health_ok || entry_1 == entry_adult || place_1 != spot_pit))) -> assert(55 ==
            0) :: else fi;
        if :: (journal == journal_ok && head_h1 == head_health_ok && head_px1 == head_health_ok && was_latch
            != latch_none && caution_s1_desk != caution_kind_incident && caution_s1_E !=
            caution_kind_equipment && caution_pit_E != caution_kind_equipment && stop_desk !=
            stop_kind_incident && stop_E != stop_kind_equipment && monitor != monitor_health_lost && monitor
            != monitor_health_tripped && latch != latch_none) -> assert(56 == 0) :: else fi;
    }
    :: d_step { (pit_open && journal == journal_ok && place_1 != spot_pit && place_1 != spot_unknown && call_1
        != kart_call_move_over && call_1 != kart_call_disqualified && (place_1 != spot_s1 || !cautioned_s1))
        ->
        printf("move-over-one kart=1\n");
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_limit_1 = limit_1;
        call_1 = (was_call_1 == kart_call_none -> kart_call_move_over : was_call_1);
        is_shows_h1 = shows_h1;
        is_limit_1 = limit_1;
        if :: (pit_open && journal == journal_ok && place_1 != spot_pit && place_1 != spot_unknown &&
            was_call_1 != kart_call_move_over && was_call_1 != kart_call_disqualified && (place_1 != spot_s1
            || (caution_s1_desk != caution_kind_incident && caution_s1_E != caution_kind_equipment)) &&
            (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 ==
            aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) ||
            ((shows_px1 == aspect_red || shows_px1 == aspect_yellow || shows_px1 == aspect_yellow_flash ||
            shows_px1 == aspect_red_yellow) && shows_px1 == aspect_green))) -> assert(23 == 0) :: else fi;
        if :: (pit_open && journal == journal_ok && place_1 != spot_pit && place_1 != spot_unknown &&
            was_call_1 != kart_call_move_over && was_call_1 != kart_call_disqualified && (place_1 != spot_s1
            || (caution_s1_desk != caution_kind_incident && caution_s1_E != caution_kind_equipment)) && call_1
            == was_call_1 && is_shows_h1 == was_shows_h1 && is_limit_1 == was_limit_1) -> assert(28 == 0) ::
            else fi;
        if :: (pit_open && journal == journal_ok && call_1 == kart_call_disqualified && place_1 != spot_pit &&
            place_1 != spot_unknown && was_call_1 != kart_call_move_over && was_call_1 !=
            kart_call_disqualified && (place_1 != spot_s1 || (caution_s1_desk != caution_kind_incident &&
            caution_s1_E != caution_kind_equipment))) -> assert(39 == 0) :: else fi;
        if :: (pit_open && journal == journal_ok && place_1 != spot_pit && place_1 != spot_unknown &&
            was_call_1 != kart_call_move_over && was_call_1 != kart_call_disqualified && (place_1 != spot_s1
            || (caution_s1_desk != caution_kind_incident && caution_s1_E != caution_kind_equipment)) && call_1
            != kart_call_move_over) -> assert(57 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && call_1 == kart_call_move_over) ->
        printf("withdraw-one kart=1\n");
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_limit_1 = limit_1;
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_limit_1 = limit_1;
        if :: (journal == journal_ok && was_call_1 == kart_call_move_over && phase != phase_test &&
            (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 ==
            aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) ||
            ((shows_px1 == aspect_red || shows_px1 == aspect_yellow || shows_px1 == aspect_yellow_flash ||
            shows_px1 == aspect_red_yellow) && shows_px1 == aspect_green))) -> assert(23 == 0) :: else fi;
        if :: (journal == journal_ok && was_call_1 == kart_call_move_over && phase == phase_armed &&
            (stop_desk == stop_kind_incident || stop_E == stop_kind_equipment || caution_s1_desk ==
            caution_kind_incident || caution_s1_E == caution_kind_equipment || caution_pit_E ==
            caution_kind_equipment)) -> assert(31 == 0) :: else fi;
        if :: (journal == journal_ok && was_call_1 == kart_call_move_over && call_1 == kart_call_move_over &&
            is_shows_h1 == was_shows_h1 && is_limit_1 == was_limit_1) -> assert(28 == 0) :: else fi;
        if :: (journal == journal_ok && was_call_1 == kart_call_move_over && call_1 == kart_call_disqualified)
            -> assert(39 == 0) :: else fi;
        if :: (journal == journal_ok && was_call_1 == kart_call_move_over && call_1 == kart_call_move_over) ->
            assert(58 == 0) :: else fi;
    }
    :: d_step { (phase == phase_staging || phase == phase_armed || phase == phase_racing || phase ==
        phase_finishing) ->
        printf("disqualify-one kart=1\n");
        was_phase = phase;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        call_1 = (was_call_1 == kart_call_disqualified -> kart_call_disqualified : (was_call_1 ==
            kart_call_move_over -> kart_call_disqualified : (was_call_1 == kart_call_none ->
            kart_call_disqualified : was_call_1)));
        phase = (was_phase == phase_armed -> phase_staging : was_phase);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (phase == phase_racing && (was_phase == phase_staging || was_phase == phase_armed || was_phase
            == phase_finishing) && was_phase != phase_racing) -> assert(22 == 0) :: else fi;
        if :: (was_call_1 == kart_call_disqualified && (was_phase == phase_staging || was_phase == phase_armed
            || was_phase == phase_racing || was_phase == phase_finishing) && call_1 != kart_call_disqualified
            && place_1 != spot_pit) -> assert(48 == 0) :: else fi;
        if :: (phase == phase_closed && (was_phase == phase_staging || was_phase == phase_armed || was_phase
            == phase_racing || was_phase == phase_finishing) && was_phase != phase_closed && place_1 !=
            spot_pit) -> assert(30 == 0) :: else fi;
        if :: ((was_phase == phase_staging || was_phase == phase_armed || was_phase == phase_racing ||
            was_phase == phase_finishing) && was_phase != phase_test && phase != phase_test && (((was_shows_h1
            == aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 == aspect_yellow_flash ||
            was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) || ((was_shows_px1 ==
            aspect_red || was_shows_px1 == aspect_yellow || was_shows_px1 == aspect_yellow_flash ||
            was_shows_px1 == aspect_red_yellow) && is_shows_px1 == aspect_green))) -> assert(23 == 0) :: else
            fi;
        if :: (phase == phase_armed && (was_phase == phase_staging || was_phase == phase_armed || was_phase ==
            phase_racing || was_phase == phase_finishing) && (stop_desk == stop_kind_incident || stop_E ==
            stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
        if :: ((was_phase == phase_staging || was_phase == phase_armed || was_phase == phase_racing ||
            was_phase == phase_finishing) && was_phase != phase_test && phase != phase_test && ((!(is_shows_h1
            <= was_shows_h1) && was_shows_h1 != aspect_blue_flash) || (!(is_shows_px1 <= was_shows_px1) &&
            was_shows_px1 != aspect_blue_flash))) -> assert(43 == 0) :: else fi;
        if :: ((was_phase == phase_staging || was_phase == phase_armed || was_phase == phase_racing ||
            was_phase == phase_finishing) && !(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (phase == phase_test && (was_phase == phase_staging || was_phase == phase_armed || was_phase ==
            phase_racing || was_phase == phase_finishing) && was_phase != phase_test) -> assert(37 == 0) ::
            else fi;
        if :: (phase == phase_staging && (was_phase == phase_racing || was_phase == phase_finishing) &&
            was_phase != phase_staging && was_phase != phase_armed) -> assert(25 == 0) :: else fi;
        if :: (phase == phase_armed && (was_phase == phase_staging || was_phase == phase_racing || was_phase
            == phase_finishing) && was_phase != phase_armed) -> assert(26 == 0) :: else fi;
        if :: (phase == phase_finishing && (was_phase == phase_staging || was_phase == phase_armed ||
            was_phase == phase_racing) && was_phase != phase_finishing) -> assert(27 == 0) :: else fi;
        if :: (phase == phase_closed && (was_phase == phase_staging || was_phase == phase_armed || was_phase
            == phase_racing || was_phase == phase_finishing) && was_phase != phase_closed && was_phase !=
            phase_test) -> assert(38 == 0) :: else fi;
        if :: (call_1 == kart_call_move_over && (was_phase == phase_staging || was_phase == phase_armed ||
            was_phase == phase_racing || was_phase == phase_finishing) && was_call_1 != kart_call_move_over)
            -> assert(40 == 0) :: else fi;
        if :: ((was_phase == phase_staging || was_phase == phase_armed || was_phase == phase_racing ||
            was_phase == phase_finishing) && call_1 != kart_call_disqualified) -> assert(59 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok && place_1 == spot_pit && call_1 == kart_call_disqualified) ->
        printf("requalify kart=1\n");
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_limit_1 = limit_1;
        call_1 = (was_call_1 == kart_call_disqualified -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_limit_1 = limit_1;
        if :: (journal == journal_ok && place_1 == spot_pit && was_call_1 == kart_call_disqualified && phase
            != phase_test && (((was_shows_h1 == aspect_red || was_shows_h1 == aspect_yellow || was_shows_h1 ==
            aspect_yellow_flash || was_shows_h1 == aspect_red_yellow) && is_shows_h1 == aspect_green) ||
            ((shows_px1 == aspect_red || shows_px1 == aspect_yellow || shows_px1 == aspect_yellow_flash ||
            shows_px1 == aspect_red_yellow) && shows_px1 == aspect_green))) -> assert(23 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && was_call_1 == kart_call_disqualified && phase
            == phase_armed && (stop_desk == stop_kind_incident || stop_E == stop_kind_equipment ||
            caution_s1_desk == caution_kind_incident || caution_s1_E == caution_kind_equipment ||
            caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && was_call_1 == kart_call_disqualified && call_1
            == kart_call_disqualified && is_shows_h1 == was_shows_h1 && is_limit_1 == was_limit_1) ->
            assert(28 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && was_call_1 == kart_call_disqualified && call_1
            == kart_call_move_over) -> assert(40 == 0) :: else fi;
        if :: (journal == journal_ok && place_1 == spot_pit && was_call_1 == kart_call_disqualified && call_1
            != kart_call_none) -> assert(60 == 0) :: else fi;
    }
    :: d_step { (journal == journal_ok) ->
        printf("button-reset kart=1\n");
        if :: (journal == journal_ok && phase != phase_test && (((shows_h1 == aspect_red || shows_h1 ==
            aspect_yellow || shows_h1 == aspect_yellow_flash || shows_h1 == aspect_red_yellow) && shows_h1 ==
            aspect_green) || ((shows_px1 == aspect_red || shows_px1 == aspect_yellow || shows_px1 ==
            aspect_yellow_flash || shows_px1 == aspect_red_yellow) && shows_px1 == aspect_green))) ->
            assert(23 == 0) :: else fi;
        if :: (journal == journal_ok && phase == phase_armed && (stop_desk == stop_kind_incident || stop_E ==
            stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("head-lost head=h1\n");
        was_phase = phase;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        head_h1 = head_health_lost;
        caution_s1_E = caution_kind_equipment;
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (place_1 == spot_s1 && was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("head-lost head=px1\n");
        was_phase = phase;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        head_px1 = head_health_lost;
        caution_s1_E = caution_kind_equipment;
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (place_1 == spot_s1 && was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("head-back head=h1\n");
        was_head_h1 = head_h1;
        head_h1 = (was_head_h1 != head_health_ok -> head_health_ok : was_head_h1);
        if :: (P13_1_5) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
        if :: (head_h1 == head_health_lost) -> assert(61 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("head-back head=px1\n");
        was_head_px1 = head_px1;
        was_shows_px1 = shows_px1;
        head_px1 = (was_head_px1 != head_health_ok -> head_health_ok : was_head_px1);
        is_shows_px1 = shows_px1;
        if :: (phase != phase_test && (((shows_h1 == aspect_red || shows_h1 == aspect_yellow || shows_h1 ==
            aspect_yellow_flash || shows_h1 == aspect_red_yellow) && shows_h1 == aspect_green) ||
            ((was_shows_px1 == aspect_red || was_shows_px1 == aspect_yellow || was_shows_px1 ==
            aspect_yellow_flash || was_shows_px1 == aspect_red_yellow) && is_shows_px1 == aspect_green))) ->
            assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
        if :: (head_px1 == head_health_lost) -> assert(61 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-lost kart=1\n");
        was_phase = phase;
        was_caution_s1_E = caution_s1_E;
        was_caution_pit_E = caution_pit_E;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        place_1 = (was_place_1 == spot_pit -> was_place_1 : spot_unknown);
        caution_s1_E = (was_place_1 != spot_pit -> caution_kind_equipment : was_caution_s1_E);
        caution_pit_E = (was_place_1 != spot_pit -> caution_kind_equipment : was_caution_pit_E);
        phase = (was_place_1 != spot_pit && was_phase == phase_test -> phase_closed : (was_phase ==
            phase_armed -> phase_staging : was_phase));
        call_1 = (was_place_1 != spot_pit && was_call_1 == kart_call_move_over -> kart_call_none :
            was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (phase == phase_armed) -> assert(62 == 0) :: else fi;
        if :: (was_place_1 != spot_pit && place_1 != spot_unknown) -> assert(63 == 0) :: else fi;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P5_4_1) -> assert(64 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (was_place_1 == spot_pit && place_1 != spot_pit && place_1 != spot_unknown && place_1 !=
            spot_aside && (was_phase != phase_racing || latch != latch_none) && stop_E != stop_kind_equipment)
            -> assert(65 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_4) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-back kart=1\n");
        if :: (P13_1_5) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=s1 not-button[1] not-moving[1]\n");
        was_phase = phase;
        was_latch = latch;
        was_stop_E = stop_E;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_s1;
        stop_E = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) ->
            stop_kind_equipment : was_stop_E);
        latch = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) &&
            was_latch == latch_recovery -> latch_stop : (was_place_1 == spot_pit && (was_phase != phase_racing
            || was_latch != latch_none) && was_latch == latch_none -> latch_stop : was_latch));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (((was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none)) ||
            was_latch == latch_recovery || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || was_latch != latch_none) && was_call_1 == kart_call_move_over ->
            kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P4_1_1) -> assert(53 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P5_2_1) -> assert(66 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (P12e_1_1) -> assert(65 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_5) -> assert(31 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=s1 not-button[1] moving[1]\n");
        was_phase = phase;
        was_latch = latch;
        was_stop_E = stop_E;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_s1;
        stop_E = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) ->
            stop_kind_equipment : was_stop_E);
        latch = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) &&
            was_latch == latch_recovery -> latch_stop : (was_place_1 == spot_pit && (was_phase != phase_racing
            || was_latch != latch_none) && was_latch == latch_none -> latch_stop : was_latch));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (((was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none)) ||
            was_latch == latch_recovery || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || was_latch != latch_none) && was_call_1 == kart_call_move_over ->
            kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P4_1_1) -> assert(53 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P5_2_1) -> assert(66 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (P12e_1_1) -> assert(65 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_5) -> assert(31 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=s1 button[1] not-moving[1]\n");
        was_phase = phase;
        was_latch = latch;
        was_stop_E = stop_E;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_s1;
        stop_E = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) ->
            stop_kind_equipment : was_stop_E);
        caution_s1_E = caution_kind_equipment;
        latch = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) &&
            was_latch == latch_recovery -> latch_stop : (was_place_1 == spot_pit && (was_phase != phase_racing
            || was_latch != latch_none) && was_latch == latch_none -> latch_stop : was_latch));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P4_1_1) -> assert(53 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P5_2_1) -> assert(66 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (P12e_1_1) -> assert(65 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=s1 button[1] moving[1]\n");
        was_phase = phase;
        was_latch = latch;
        was_stop_E = stop_E;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_s1;
        stop_E = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) ->
            stop_kind_equipment : was_stop_E);
        caution_s1_E = caution_kind_equipment;
        latch = (was_place_1 == spot_pit && (was_phase != phase_racing || was_latch != latch_none) &&
            was_latch == latch_recovery -> latch_stop : (was_place_1 == spot_pit && (was_phase != phase_racing
            || was_latch != latch_none) && was_latch == latch_none -> latch_stop : was_latch));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P4_1_1) -> assert(53 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P5_2_1) -> assert(66 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (P12e_1_1) -> assert(65 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=pit not-button[1] not-moving[1]\n");
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_pit;
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P13_1_6) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=pit not-button[1] moving[1]\n");
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_pit;
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P13_1_6) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=pit button[1] not-moving[1]\n");
        was_phase = phase;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_pit;
        caution_pit_E = caution_kind_equipment;
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-at kart=1 where=pit button[1] moving[1]\n");
        was_phase = phase;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        place_1 = spot_pit;
        caution_pit_E = caution_kind_equipment;
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("kart-pressed kart=1\n");
        was_phase = phase;
        was_caution_s1_E = caution_s1_E;
        was_caution_pit_E = caution_pit_E;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        caution_s1_E = (place_1 == spot_s1 || place_1 == spot_unknown -> caution_kind_equipment :
            was_caution_s1_E);
        caution_pit_E = (place_1 == spot_pit || place_1 == spot_unknown -> caution_kind_equipment :
            was_caution_pit_E);
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        if :: (((place_1 == spot_s1 || place_1 == spot_unknown) && caution_s1_E == caution_kind_none) ||
            ((place_1 == spot_pit || place_1 == spot_unknown) && caution_pit_E == caution_kind_none)) ->
            assert(67 == 0) :: else fi;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P5_4_1) -> assert(64 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_4) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(kmh_0 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("monitor-lost\n");
        was_phase = phase;
        was_monitor = monitor;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        monitor = (was_monitor == monitor_health_ok -> monitor_health_lost : was_monitor);
        caution_s1_E = caution_kind_equipment;
        caution_pit_E = caution_kind_equipment;
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (monitor == monitor_health_ok) -> assert(68 == 0) :: else fi;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("monitor-back\n");
        was_monitor = monitor;
        monitor = (was_monitor == monitor_health_lost -> monitor_health_ok : was_monitor);
        if :: (P13_1_5) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
        if :: (monitor == monitor_health_lost) -> assert(69 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("monitor-tripped\n");
        was_phase = phase;
        was_latch = latch;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        monitor = monitor_health_tripped;
        stop_E = stop_kind_equipment;
        caution_s1_E = caution_kind_equipment;
        caution_pit_E = caution_kind_equipment;
        latch = (was_latch == latch_stop -> latch_stop : (was_latch == latch_recovery -> latch_stop :
            (was_latch == latch_none -> latch_stop : was_latch)));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("monitor-reset\n");
        was_monitor = monitor;
        monitor = (was_monitor == monitor_health_tripped -> monitor_health_ok : was_monitor);
        if :: (P13_1_5) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
        if :: (monitor == monitor_health_tripped) -> assert(70 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("broker-lost\n");
        was_phase = phase;
        was_latch = latch;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        stop_E = stop_kind_equipment;
        latch = (was_latch == latch_stop -> latch_stop : (was_latch == latch_recovery -> latch_stop :
            (was_latch == latch_none -> latch_stop : was_latch)));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("foreign-controller\n");
        was_phase = phase;
        was_latch = latch;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        stop_E = stop_kind_equipment;
        latch = (was_latch == latch_stop -> latch_stop : (was_latch == latch_recovery -> latch_stop :
            (was_latch == latch_none -> latch_stop : was_latch)));
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P6e_1_1) -> assert(48 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("journal-failed\n");
        was_phase = phase;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        journal = journal_failed;
        phase = (was_phase == phase_armed -> phase_staging : was_phase);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P11_1_2) -> assert(30 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("journal-back\n");
        journal = journal_ok;
        if :: (P13_1_5) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_3) -> assert(31 == 0) :: else fi;
    }
    :: d_step { (1) ->
        printf("restart\n");
        was_phase = phase;
        was_latch = latch;
        was_stop_E = stop_E;
        was_caution_s1_E = caution_s1_E;
        was_caution_pit_E = caution_pit_E;
        was_place_1 = place_1;
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_test -> phase_closed : (was_phase == phase_armed -> phase_staging :
            was_phase));
        ready = 0;
        latch = (was_phase != phase_closed && was_phase != phase_test -> latch_stop : was_latch);
        stop_E = (was_phase == phase_closed || was_phase == phase_test -> was_stop_E : stop_kind_equipment);
        caution_s1_E = (was_phase == phase_closed || was_phase == phase_test -> was_caution_s1_E :
            caution_kind_equipment);
        caution_pit_E = (was_phase == phase_closed || was_phase == phase_test -> was_caution_pit_E :
            caution_kind_equipment);
        place_1 = (was_phase != phase_closed && was_phase != phase_test -> spot_unknown : was_place_1);
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_3) -> assert(22 == 0) :: else fi;
        if :: (P4_1_1) -> assert(53 == 0) :: else fi;
        if :: (P5_1_1) -> assert(52 == 0) :: else fi;
        if :: (P5_2_1) -> assert(66 == 0) :: else fi;
        if :: (P5_4_1) -> assert(64 == 0) :: else fi;
        if :: (P6e_1_2) -> assert(48 == 0) :: else fi;
        if :: (P11_1_3) -> assert(30 == 0) :: else fi;
        if :: (was_place_1 == spot_pit && stop_E == stop_kind_none && place_1 != spot_pit && place_1 !=
            spot_unknown && place_1 != spot_aside && (was_phase != phase_racing || was_latch != latch_none))
            -> assert(65 == 0) :: else fi;
        if :: (P13_1_4) -> assert(23 == 0) :: else fi;
        if :: (phase == phase_armed && (stop_desk == stop_kind_incident || stop_E != stop_kind_none ||
            caution_s1_desk == caution_kind_incident || caution_s1_E != caution_kind_none || caution_pit_E !=
            caution_kind_none)) -> assert(31 == 0) :: else fi;
        if :: ((was_stop_E == stop_kind_equipment && stop_E == stop_kind_none) || (was_caution_s1_E ==
            caution_kind_equipment && caution_s1_E == caution_kind_none) || (was_caution_pit_E ==
            caution_kind_equipment && caution_pit_E == caution_kind_none) || (was_call_1 ==
            kart_call_disqualified && call_1 != kart_call_disqualified) || (was_latch != latch_none && latch
            == latch_none)) -> assert(71 == 0) :: else fi;
        if :: (was_phase != phase_closed && was_phase != phase_test && (stop_E == stop_kind_none || place_1 !=
            spot_unknown)) -> assert(72 == 0) :: else fi;
        if :: (P18_1_2) -> assert(43 == 0) :: else fi;
        if :: (!(is_limit_1 <= was_limit_1)) -> assert(32 == 0) :: else fi;
        if :: (P20_1_2) -> assert(24 == 0) :: else fi;
        if :: (P20_2_1) -> assert(33 == 0) :: else fi;
        if :: (P20_3_2) -> assert(35 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_5_1) -> assert(49 == 0) :: else fi;
        if :: (P20_6_2) -> assert(36 == 0) :: else fi;
        if :: (P20_7_3) -> assert(37 == 0) :: else fi;
        if :: (P20_8_1) -> assert(25 == 0) :: else fi;
        if :: (P20_9_2) -> assert(26 == 0) :: else fi;
        if :: (P20_10_3) -> assert(27 == 0) :: else fi;
        if :: (P20_11_3) -> assert(38 == 0) :: else fi;
        if :: (P28_6_2) -> assert(39 == 0) :: else fi;
        if :: (P28_7_2) -> assert(40 == 0) :: else fi;
    }
    :: d_step { (phase == phase_armed) ->
        printf("armed-expired\n");
        was_phase = phase;
        was_shows_h1 = shows_h1;
        was_shows_px1 = shows_px1;
        was_limit_1 = limit_1;
        phase = (was_phase == phase_armed -> phase_staging : was_phase);
        is_shows_h1 = shows_h1;
        is_shows_px1 = shows_px1;
        is_limit_1 = limit_1;
        if :: (P3_1_2) -> assert(22 == 0) :: else fi;
        if :: (P11_1_1) -> assert(30 == 0) :: else fi;
        if :: (P13_1_3) -> assert(23 == 0) :: else fi;
        if :: (P14e_1_2) -> assert(31 == 0) :: else fi;
        if :: (P18_1_1) -> assert(43 == 0) :: else fi;
        if :: (P18_2_1) -> assert(32 == 0) :: else fi;
        if :: (P20_4_1) -> assert(44 == 0) :: else fi;
        if :: (P20_7_2) -> assert(37 == 0) :: else fi;
        if :: (P20_10_2) -> assert(27 == 0) :: else fi;
        if :: (P20_11_2) -> assert(38 == 0) :: else fi;
        if :: (P34_6_1) -> assert(45 == 0) :: else fi;
    }
    :: d_step { (call_1 == kart_call_move_over) ->
        printf("move-over-expired kart=1\n");
        was_call_1 = call_1;
        was_shows_h1 = shows_h1;
        call_1 = (was_call_1 == kart_call_move_over -> kart_call_none : was_call_1);
        is_shows_h1 = shows_h1;
        if :: (was_call_1 == kart_call_move_over && phase != phase_test && (((was_shows_h1 == aspect_red ||
            was_shows_h1 == aspect_yellow || was_shows_h1 == aspect_yellow_flash || was_shows_h1 ==
            aspect_red_yellow) && is_shows_h1 == aspect_green) || ((shows_px1 == aspect_red || shows_px1 ==
            aspect_yellow || shows_px1 == aspect_yellow_flash || shows_px1 == aspect_red_yellow) && shows_px1
            == aspect_green))) -> assert(23 == 0) :: else fi;
        if :: (was_call_1 == kart_call_move_over && phase == phase_armed && (stop_desk == stop_kind_incident
            || stop_E == stop_kind_equipment || caution_s1_desk == caution_kind_incident || caution_s1_E ==
            caution_kind_equipment || caution_pit_E == caution_kind_equipment)) -> assert(31 == 0) :: else fi;
        if :: (was_call_1 == kart_call_move_over && call_1 == kart_call_disqualified) -> assert(39 == 0) ::
            else fi;
        if :: (was_call_1 == kart_call_move_over && call_1 == kart_call_move_over) -> assert(73 == 0) :: else
            fi;
    }
    od
}
