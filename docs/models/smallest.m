-- A venue of one sector, one kart, one post. Made from the rule table by `kerblight`; do not edit.

const
  phase_closed: 0;
  phase_test: 1;
  phase_staging: 2;
  phase_armed: 3;
  phase_racing: 4;
  phase_finishing: 5;
  latch_none: 0;
  latch_stop: 1;
  latch_recovery: 2;
  stop_kind_incident: 0;
  stop_kind_fire: 1;
  stop_kind_medical: 2;
  stop_kind_equipment: 3;
  stop_kind_none: 4;
  caution_kind_incident: 0;
  caution_kind_person_on_track: 1;
  caution_kind_equipment: 2;
  caution_kind_none: 3;
  monitor_health_ok: 0;
  monitor_health_lost: 1;
  monitor_health_tripped: 2;
  head_health_ok: 0;
  head_health_lost: 1;
  head_health_out: 2;
  spot_s1: 0;
  spot_pit: 1;
  spot_unknown: 2;
  spot_aside: 3;
  kart_call_none: 0;
  kart_call_move_over: 1;
  kart_call_disqualified: 2;
  entry_adult: 0;
  entry_none: 1;
  journal_ok: 0;
  journal_failed: 1;
  aspect_red: 0;
  aspect_yellow_flash: 1;
  aspect_yellow: 2;
  aspect_red_yellow: 3;
  aspect_number: 4;
  aspect_blue_flash: 5;
  aspect_dark: 6;
  aspect_green: 7;
  kmh_0: 0;
  kmh_5: 1;
  kmh_8: 2;
  kmh_12: 3;
  kmh_15: 4;
  kmh_22: 5;
  kmh_28: 6;
  kmh_32: 7;
  kmh_45: 8;

type
  phase_t: 0 .. 5;
  latch_t: 0 .. 2;
  stop_kind_t: 0 .. 4;
  caution_kind_t: 0 .. 3;
  monitor_health_t: 0 .. 2;
  head_health_t: 0 .. 2;
  spot_t: 0 .. 3;
  kart_call_t: 0 .. 2;
  entry_t: 0 .. 1;
  journal_t: 0 .. 1;
  aspect_t: 0 .. 7;
  kmh_t: 0 .. 8;

var
  phase: phase_t;
  ready: boolean;
  latch: latch_t;
  stop_desk: stop_kind_t;
  stop_E: stop_kind_t;
  caution_s1_desk: caution_kind_t;
  caution_s1_E: caution_kind_t;
  caution_pit_E: caution_kind_t;
  monitor: monitor_health_t;
  head_h1: head_health_t;
  head_px1: head_health_t;
  place_1: spot_t;
  call_1: kart_call_t;
  entry_1: entry_t;
  journal: journal_t;

function cautioned_s1(): boolean; begin
  return latch = latch_recovery | caution_s1_desk = caution_kind_incident | caution_s1_E =
      caution_kind_equipment;
end;

function cautioned_pit(): boolean; begin
  return latch = latch_recovery | caution_pit_E = caution_kind_equipment;
end;

function pit_open(): boolean; begin
  return phase = phase_racing & latch = latch_none;
end;

function caution_at_unknown(): boolean; begin
  return cautioned_s1() | caution_pit_E = caution_kind_equipment;
end;

function shows_h1(): aspect_t; begin
  return (latch = latch_stop ? aspect_red : ((phase = phase_closed | phase = phase_staging | phase =
      phase_armed) & place_1 != spot_pit ? aspect_red : (cautioned_s1() ? aspect_yellow_flash : (phase =
      phase_finishing ? aspect_red_yellow : (call_1 = kart_call_disqualified & place_1 != spot_pit ?
      aspect_number : (call_1 = kart_call_move_over ? aspect_blue_flash : (phase = phase_racing ? aspect_green
      : aspect_dark)))))));
end;

function shows_px1(): aspect_t; begin
  return (latch = latch_stop ? aspect_red : (head_px1 != head_health_ok ? aspect_red : (!pit_open() ?
      aspect_red : ((phase = phase_closed | phase = phase_staging | phase = phase_armed) & place_1 != spot_pit
      ? aspect_red : (cautioned_s1() ? aspect_yellow_flash : (phase = phase_finishing ? aspect_red_yellow :
      (phase = phase_racing ? aspect_green : aspect_dark)))))));
end;

function limit_1(): kmh_t; begin
  return ((phase = phase_closed | phase = phase_staging | phase = phase_armed) & (place_1 = spot_pit | place_1
      = spot_unknown) ? kmh_0 : (phase != phase_closed & phase != phase_test & phase != phase_staging & phase
      != phase_armed & (place_1 = spot_pit | place_1 = spot_unknown) ? kmh_0 : (phase = phase_test ? kmh_0 :
      (latch = latch_stop ? kmh_0 : ((place_1 = spot_pit | place_1 = spot_unknown) & phase != phase_test ?
      kmh_8 : (call_1 = kart_call_disqualified ? kmh_12 : ((phase = phase_closed | phase = phase_staging |
      phase = phase_armed) & place_1 != spot_pit ? kmh_12 : (latch = latch_recovery ? kmh_12 : (phase =
      phase_finishing ? kmh_15 : ((place_1 = spot_s1 & cautioned_s1()) | (place_1 = spot_unknown &
      caution_at_unknown()) ? kmh_15 : ((place_1 = spot_s1 & cautioned_s1()) | (place_1 = spot_pit &
      cautioned_pit()) | (place_1 = spot_unknown & caution_at_unknown()) ? kmh_15 : kmh_45)))))))))));
end;

function P20_2_1(was_phase: phase_t): boolean; begin
  return was_phase = phase_test & phase != phase_test & phase != phase_closed;
end;

function P3_1_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & phase = phase_racing & (was_phase = phase_closed |
      was_phase = phase_staging | was_phase = phase_finishing) & was_phase != phase_racing;
end;

function P13_1_1(was_phase: phase_t; was_shows_h1: aspect_t; was_shows_px1: aspect_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & (was_phase = phase_closed | was_phase = phase_staging |
      was_phase = phase_finishing) & was_phase != phase_test & phase != phase_test & (((was_shows_h1 =
      aspect_red | was_shows_h1 = aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 =
      aspect_red_yellow) & shows_h1() = aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 =
      aspect_yellow | was_shows_px1 = aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() =
      aspect_green));
end;

function P14e_1_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & phase = phase_armed & (was_phase = phase_closed |
      was_phase = phase_staging | was_phase = phase_finishing) & (stop_desk = stop_kind_incident | stop_E =
      stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      caution_pit_E = caution_kind_equipment);
end;

function P20_1_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & was_phase = phase_closed & phase != phase_closed & phase
      != phase_test & phase != phase_staging;
end;

function P20_3_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & was_phase = phase_staging & phase != phase_staging &
      phase != phase_armed & phase != phase_closed;
end;

function P20_6_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & was_phase = phase_finishing & phase != phase_finishing &
      phase != phase_staging & phase != phase_closed;
end;

function P20_7_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & phase = phase_test & (was_phase = phase_closed |
      was_phase = phase_staging | was_phase = phase_finishing) & was_phase != phase_test;
end;

function P20_9_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & phase = phase_armed & (was_phase = phase_closed |
      was_phase = phase_staging | was_phase = phase_finishing) & was_phase != phase_armed;
end;

function P20_10_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & phase = phase_finishing & (was_phase = phase_closed |
      was_phase = phase_staging) & was_phase != phase_finishing;
end;

function P20_11_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & phase = phase_closed & (was_phase = phase_staging |
      was_phase = phase_finishing) & was_phase != phase_closed & was_phase != phase_test;
end;

function P28_6_1(was_phase: phase_t; was_call_1: kart_call_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & call_1 = kart_call_disqualified & (was_phase =
      phase_closed | was_phase = phase_staging | was_phase = phase_finishing) & was_call_1 !=
      kart_call_disqualified;
end;

function P28_7_1(was_phase: phase_t; was_call_1: kart_call_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & call_1 = kart_call_move_over & (was_phase = phase_closed
      | was_phase = phase_staging | was_phase = phase_finishing) & was_call_1 != kart_call_move_over;
end;

function P34_3_1(was_phase: phase_t): boolean; begin
  return journal = journal_ok & place_1 = spot_pit & (was_phase = phase_closed | was_phase = phase_staging |
      was_phase = phase_finishing) & (phase != phase_staging | call_1 != kart_call_none);
end;

function P13_1_2(): boolean; begin
  return journal = journal_ok & (phase = phase_staging | phase = phase_racing) & phase != phase_test &
      (((shows_h1() = aspect_red | shows_h1() = aspect_yellow | shows_h1() = aspect_yellow_flash | shows_h1()
      = aspect_red_yellow) & shows_h1() = aspect_green) | ((shows_px1() = aspect_red | shows_px1() =
      aspect_yellow | shows_px1() = aspect_yellow_flash | shows_px1() = aspect_red_yellow) & shows_px1() =
      aspect_green));
end;

function P3_1_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase = phase_racing;
end;

function P11_1_1(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase = phase_closed & place_1 != spot_pit;
end;

function P13_1_3(was_phase: phase_t; was_shows_h1: aspect_t; was_shows_px1: aspect_t): boolean; begin
  return was_phase = phase_armed & phase != phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 =
      aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() =
      aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 =
      aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() = aspect_green));
end;

function P14e_1_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase = phase_armed & (stop_desk = stop_kind_incident | stop_E =
      stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      caution_pit_E = caution_kind_equipment);
end;

function P18_1_1(was_phase: phase_t; was_shows_h1: aspect_t; was_shows_px1: aspect_t): boolean; begin
  return was_phase = phase_armed & phase != phase_test & ((!(shows_h1() <= was_shows_h1) & was_shows_h1 !=
      aspect_blue_flash) | (!(shows_px1() <= was_shows_px1) & was_shows_px1 != aspect_blue_flash));
end;

function P18_2_1(was_phase: phase_t; was_limit_1: kmh_t): boolean; begin
  return was_phase = phase_armed & !(limit_1() <= was_limit_1);
end;

function P20_4_1(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase != phase_armed & phase != phase_staging & phase != phase_racing;
end;

function P20_7_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase = phase_test;
end;

function P20_10_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase = phase_finishing;
end;

function P20_11_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase = phase_closed;
end;

function P34_6_1(was_phase: phase_t): boolean; begin
  return was_phase = phase_armed & phase = phase_armed;
end;

function P20_5_1(was_phase: phase_t): boolean; begin
  return was_phase = phase_racing & phase != phase_racing & phase != phase_finishing;
end;

function P3_1_3(was_phase: phase_t): boolean; begin
  return phase = phase_racing & was_phase != phase_racing;
end;

function P5_1_1(was_latch: latch_t): boolean; begin
  return was_latch = latch_recovery & latch != latch_recovery & latch != latch_stop;
end;

function P6e_1_1(was_call_1: kart_call_t): boolean; begin
  return was_call_1 = kart_call_disqualified & call_1 != kart_call_disqualified & place_1 != spot_pit;
end;

function P11_1_2(was_phase: phase_t): boolean; begin
  return phase = phase_closed & was_phase != phase_closed & place_1 != spot_pit;
end;

function P13_1_4(was_phase: phase_t; was_shows_h1: aspect_t; was_shows_px1: aspect_t): boolean; begin
  return was_phase != phase_test & phase != phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 =
      aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() =
      aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 =
      aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() = aspect_green));
end;

function P18_1_2(was_phase: phase_t; was_shows_h1: aspect_t; was_shows_px1: aspect_t): boolean; begin
  return was_phase != phase_test & phase != phase_test & ((!(shows_h1() <= was_shows_h1) & was_shows_h1 !=
      aspect_blue_flash) | (!(shows_px1() <= was_shows_px1) & was_shows_px1 != aspect_blue_flash));
end;

function P20_1_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_closed & phase != phase_closed & phase != phase_test & phase != phase_staging;
end;

function P20_3_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_staging & phase != phase_staging & phase != phase_armed & phase != phase_closed;
end;

function P20_6_2(was_phase: phase_t): boolean; begin
  return was_phase = phase_finishing & phase != phase_finishing & phase != phase_staging & phase !=
      phase_closed;
end;

function P20_7_3(was_phase: phase_t): boolean; begin
  return phase = phase_test & was_phase != phase_test;
end;

function P20_8_1(was_phase: phase_t): boolean; begin
  return phase = phase_staging & was_phase != phase_staging & was_phase != phase_armed;
end;

function P20_9_2(was_phase: phase_t): boolean; begin
  return phase = phase_armed & was_phase != phase_armed;
end;

function P20_10_3(was_phase: phase_t): boolean; begin
  return phase = phase_finishing & was_phase != phase_finishing;
end;

function P20_11_3(was_phase: phase_t): boolean; begin
  return phase = phase_closed & was_phase != phase_closed & was_phase != phase_test;
end;

function P28_6_2(was_call_1: kart_call_t): boolean; begin
  return call_1 = kart_call_disqualified & was_call_1 != kart_call_disqualified;
end;

function P28_7_2(was_call_1: kart_call_t): boolean; begin
  return call_1 = kart_call_move_over & was_call_1 != kart_call_move_over;
end;

function P13_1_5(): boolean; begin
  return phase != phase_test & (((shows_h1() = aspect_red | shows_h1() = aspect_yellow | shows_h1() =
      aspect_yellow_flash | shows_h1() = aspect_red_yellow) & shows_h1() = aspect_green) | ((shows_px1() =
      aspect_red | shows_px1() = aspect_yellow | shows_px1() = aspect_yellow_flash | shows_px1() =
      aspect_red_yellow) & shows_px1() = aspect_green));
end;

function P14e_1_3(): boolean; begin
  return phase = phase_armed & (stop_desk = stop_kind_incident | stop_E = stop_kind_equipment |
      caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment | caution_pit_E =
      caution_kind_equipment);
end;

function P5_4_1(was_caution_s1_E: caution_kind_t; was_caution_pit_E: caution_kind_t): boolean; begin
  return (was_caution_s1_E = caution_kind_equipment & caution_s1_E = caution_kind_none) | (was_caution_pit_E =
      caution_kind_equipment & caution_pit_E = caution_kind_none);
end;

function P6e_1_2(was_place_1: spot_t; was_call_1: kart_call_t): boolean; begin
  return was_call_1 = kart_call_disqualified & call_1 != kart_call_disqualified & was_place_1 != spot_pit;
end;

function P11_1_3(was_phase: phase_t; was_place_1: spot_t): boolean; begin
  return phase = phase_closed & was_phase != phase_closed & was_place_1 != spot_pit;
end;

function P14e_1_4(): boolean; begin
  return phase = phase_armed & (stop_desk = stop_kind_incident | stop_E = stop_kind_equipment |
      caution_s1_desk = caution_kind_incident | caution_s1_E != caution_kind_none | caution_pit_E !=
      caution_kind_none);
end;

function P4_1_1(was_phase: phase_t; was_stop_E: stop_kind_t): boolean; begin
  return stop_E = stop_kind_none & was_stop_E = stop_kind_equipment & stop_desk != stop_kind_incident & (latch
      != latch_recovery | phase != was_phase);
end;

function P5_2_1(was_stop_E: stop_kind_t): boolean; begin
  return was_stop_E = stop_kind_equipment & stop_E = stop_kind_none;
end;

function P12e_1_1(was_phase: phase_t; was_latch: latch_t; was_place_1: spot_t): boolean; begin
  return was_place_1 = spot_pit & stop_E = stop_kind_none & (was_phase != phase_racing | was_latch !=
      latch_none);
end;

function P14e_1_5(): boolean; begin
  return phase = phase_armed & (stop_desk = stop_kind_incident | stop_E != stop_kind_none | caution_s1_desk =
      caution_kind_incident | caution_s1_E = caution_kind_equipment | caution_pit_E = caution_kind_equipment);
end;

function P13_1_6(was_shows_h1: aspect_t; was_shows_px1: aspect_t): boolean; begin
  return phase != phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 = aspect_yellow | was_shows_h1 =
      aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() = aspect_green) | ((was_shows_px1 =
      aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 = aspect_yellow_flash | was_shows_px1 =
      aspect_red_yellow) & shows_px1() = aspect_green));
end;

startstate begin
  phase := phase_closed;
  ready := false;
  latch := latch_none;
  stop_desk := stop_kind_none;
  stop_E := stop_kind_none;
  caution_s1_desk := caution_kind_none;
  caution_s1_E := caution_kind_none;
  caution_pit_E := caution_kind_none;
  monitor := monitor_health_ok;
  head_h1 := head_health_ok;
  head_px1 := head_health_ok;
  place_1 := spot_pit;
  call_1 := kart_call_none;
  entry_1 := entry_none;
  journal := journal_ok;
end;
 rule "P1.1" (shows_h1() = aspect_green & phase != phase_test & (!pit_open() | stop_desk = stop_kind_incident
    | stop_E = stop_kind_equipment | monitor != monitor_health_ok | place_1 = spot_unknown | head_h1 !=
    head_health_ok | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment)) |
    (shows_px1() = aspect_green & phase != phase_test & (!pit_open() | stop_desk = stop_kind_incident | stop_E
    = stop_kind_equipment | monitor != monitor_health_ok | place_1 = spot_unknown | head_px1 != head_health_ok
    | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment)) ==> begin error
    "P1.1"; end;
 rule "P1d.1" (shows_h1() = aspect_dark & phase != phase_test & (phase = phase_racing | phase =
    phase_finishing | stop_desk = stop_kind_incident | stop_E = stop_kind_equipment | place_1 != spot_pit)) |
    (shows_px1() = aspect_dark & phase != phase_test & (phase = phase_racing | phase = phase_finishing |
    stop_desk = stop_kind_incident | stop_E = stop_kind_equipment | place_1 != spot_pit)) ==> begin error
    "P1d.1"; end;
 rule "P2.1" ((stop_desk = stop_kind_incident | stop_E = stop_kind_equipment) & (shows_h1() != aspect_red |
    shows_px1() != aspect_red)) | ((stop_desk = stop_kind_incident | stop_E = stop_kind_equipment) &
    (shows_h1() != aspect_red | shows_px1() != aspect_red | !(limit_1() <= kmh_0))) ==> begin error "P2.1";
    end;
 rule "P6.1" call_1 = kart_call_disqualified & !(limit_1() <= kmh_12) ==> begin error "P6.1"; end;
 rule "P7.1" phase != phase_test & (((shows_h1() = aspect_number | shows_h1() = aspect_blue_flash) &
    (cautioned_s1() | stop_desk = stop_kind_incident | stop_E = stop_kind_equipment | phase =
    phase_finishing)) | ((shows_px1() = aspect_number | shows_px1() = aspect_blue_flash) & (cautioned_s1() |
    stop_desk = stop_kind_incident | stop_E = stop_kind_equipment | phase = phase_finishing))) ==> begin error
    "P7.1"; end;
 rule "P7.2" call_1 = kart_call_move_over & (!pit_open() | place_1 = spot_pit | place_1 = spot_unknown |
    stop_desk = stop_kind_incident | stop_E = stop_kind_equipment | (place_1 = spot_s1 & caution_s1_desk =
    caution_kind_incident) | (place_1 = spot_s1 & caution_s1_E = caution_kind_equipment)) ==> begin error
    "P7.2"; end;
 rule "P8.3" (place_1 = spot_pit | place_1 = spot_unknown) & phase != phase_test & !(limit_1() <= kmh_0) ==>
    begin error "P8.3"; end;
 rule "P8.4" (place_1 = spot_pit | place_1 = spot_unknown) & phase != phase_test & !(limit_1() <= kmh_8) ==>
    begin error "P8.4"; end;
 rule "P8.5" (phase = phase_closed | phase = phase_staging | phase = phase_armed) & place_1 != spot_pit &
    !(limit_1() <= kmh_12) ==> begin error "P8.5"; end;
 rule "P8.6" latch = latch_recovery & !(limit_1() <= kmh_12) ==> begin error "P8.6"; end;
 rule "P8.7" ((cautioned_s1() & (place_1 = spot_s1 | place_1 = spot_unknown)) | (cautioned_pit() & (place_1 =
    spot_pit | place_1 = spot_unknown))) & !(limit_1() <= kmh_15) ==> begin error "P8.7"; end;
 rule "P8.8" ((cautioned_s1() & (place_1 = spot_s1 | place_1 = spot_unknown)) | (cautioned_pit() & (place_1 =
    spot_pit | place_1 = spot_unknown))) & !(limit_1() <= kmh_15) ==> begin error "P8.8"; end;
 rule "P8.10" phase = phase_finishing & !(limit_1() <= kmh_15) ==> begin error "P8.10"; end;
 rule "P8.11" !(limit_1() <= kmh_45) ==> begin error "P8.11"; end;
 rule "P9.1" monitor = monitor_health_tripped & stop_E != stop_kind_equipment ==> begin error "P9.1"; end;
 rule "P12.1" phase != phase_test & (!pit_open() | stop_desk = stop_kind_incident | stop_E =
    stop_kind_equipment) & shows_px1() != aspect_red ==> begin error "P12.1"; end;
 rule "P14.1" phase = phase_armed & (entry_1 != entry_adult | !ready | monitor != monitor_health_ok | head_h1
    != head_health_ok | head_px1 != head_health_ok | latch != latch_none | stop_desk = stop_kind_incident |
    stop_E = stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E =
    caution_kind_equipment | caution_pit_E = caution_kind_equipment | place_1 != spot_pit | (entry_1 =
    entry_adult & call_1 = kart_call_disqualified) | journal != journal_ok) ==> begin error "P14.1"; end;
 rule "P14.2" phase = phase_test & (latch != latch_none | stop_desk = stop_kind_incident | stop_E =
    stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
    caution_pit_E = caution_kind_equipment | place_1 != spot_pit) ==> begin error "P14.2"; end;
 rule "P15.1" (head_h1 != head_health_ok & caution_s1_E != caution_kind_equipment) | (head_px1 !=
    head_health_ok & caution_s1_E != caution_kind_equipment) ==> begin error "P15.1"; end;
 rule "P15.2" (place_1 = spot_unknown | monitor = monitor_health_lost) & (caution_s1_E !=
    caution_kind_equipment | caution_pit_E != caution_kind_equipment) ==> begin error "P15.2"; end;
 rule "P16r.1" (latch != latch_stop | (stop_desk != stop_kind_incident & stop_E != stop_kind_equipment)) &
    (latch = latch_stop | stop_desk = stop_kind_incident | stop_E = stop_kind_equipment) ==> begin error
    "P16r.1"; end;

rule "lend" !caution_at_unknown() & phase = phase_closed & journal = journal_ok & place_1 = spot_pit &
    stop_desk != stop_kind_incident & stop_E != stop_kind_equipment ==>
  var was_phase: phase_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  phase := (was_phase = phase_closed ? phase_test : was_phase);
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & phase =
      phase_racing & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment then error "P3.1"; end;
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & stop_desk
      != stop_kind_incident & stop_E != stop_kind_equipment & phase != phase_test & (((was_shows_h1 =
      aspect_red | was_shows_h1 = aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 =
      aspect_red_yellow) & shows_h1() = aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 =
      aspect_yellow | was_shows_px1 = aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() =
      aspect_green)) then error "P13.1"; end;
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & stop_desk
      != stop_kind_incident & stop_E != stop_kind_equipment & phase != phase_closed & phase != phase_test &
      phase != phase_staging then error "P20.1"; end;
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & phase =
      phase_staging & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment then error "P20.8"; end;
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & phase =
      phase_armed & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment then error "P20.9"; end;
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & phase =
      phase_finishing & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment then error "P20.10";
      end;
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & phase =
      phase_closed & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & shows_h1() =
      was_shows_h1 & shows_px1() = was_shows_px1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if !caution_at_unknown() & was_phase = phase_closed & journal = journal_ok & place_1 = spot_pit & stop_desk
      != stop_kind_incident & stop_E != stop_kind_equipment & phase != phase_test then error "P34.1"; end;
end;

rule "give-back" phase = phase_test ==>
  var was_phase: phase_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_limit_1 := limit_1();
  phase := (was_phase = phase_test ? phase_closed : was_phase);
  if was_phase = phase_test & phase = phase_racing then error "P3.1"; end;
  if was_phase = phase_test & phase = phase_closed & place_1 != spot_pit then error "P11.1"; end;
  if was_phase = phase_test & phase = phase_armed & (stop_desk = stop_kind_incident | stop_E =
      stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      caution_pit_E = caution_kind_equipment) then error "P14e.1"; end;
  if was_phase = phase_test & !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if was_phase = phase_test & phase = phase_staging then error "P20.8"; end;
  if was_phase = phase_test & phase = phase_armed then error "P20.9"; end;
  if was_phase = phase_test & phase = phase_finishing then error "P20.10"; end;
  if was_phase = phase_test & phase != phase_closed then error "P34.2"; end;
end;

rule "stage not-complete staged[0]=adult" (phase = phase_closed | phase = phase_staging | phase =
    phase_finishing) & journal = journal_ok & place_1 = spot_pit ==>
  var was_phase: phase_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  entry_1 := entry_adult;
  ready := false;
  phase := (was_phase = phase_finishing ? phase_staging : (was_phase = phase_staging ? phase_staging :
      (was_phase = phase_closed ? phase_staging : was_phase)));
  call_1 := (was_call_1 = kart_call_disqualified ? kart_call_none : (was_call_1 = kart_call_move_over ?
      kart_call_none : was_call_1));
  if P3_1_1(was_phase) then error "P3.1"; end;
  if P13_1_1(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_1(was_phase) then error "P14e.1"; end;
  if P20_1_1(was_phase) then error "P20.1"; end;
  if P20_3_1(was_phase) then error "P20.3"; end;
  if P20_6_1(was_phase) then error "P20.6"; end;
  if P20_7_1(was_phase) then error "P20.7"; end;
  if P20_9_1(was_phase) then error "P20.9"; end;
  if P20_10_1(was_phase) then error "P20.10"; end;
  if P20_11_1(was_phase) then error "P20.11"; end;
  if P28_6_1(was_phase, was_call_1) then error "P28.6"; end;
  if P28_7_1(was_phase, was_call_1) then error "P28.7"; end;
  if P34_3_1(was_phase) then error "P34.3"; end;
end;

rule "stage complete staged[0]=adult" (phase = phase_closed | phase = phase_staging | phase = phase_finishing)
    & journal = journal_ok & place_1 = spot_pit ==>
  var was_phase: phase_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  entry_1 := entry_adult;
  ready := true;
  phase := (was_phase = phase_finishing ? phase_staging : (was_phase = phase_staging ? phase_staging :
      (was_phase = phase_closed ? phase_staging : was_phase)));
  call_1 := (was_call_1 = kart_call_disqualified ? kart_call_none : (was_call_1 = kart_call_move_over ?
      kart_call_none : was_call_1));
  if P3_1_1(was_phase) then error "P3.1"; end;
  if P13_1_1(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_1(was_phase) then error "P14e.1"; end;
  if P20_1_1(was_phase) then error "P20.1"; end;
  if P20_3_1(was_phase) then error "P20.3"; end;
  if P20_6_1(was_phase) then error "P20.6"; end;
  if P20_7_1(was_phase) then error "P20.7"; end;
  if P20_9_1(was_phase) then error "P20.9"; end;
  if P20_10_1(was_phase) then error "P20.10"; end;
  if P20_11_1(was_phase) then error "P20.11"; end;
  if P28_6_1(was_phase, was_call_1) then error "P28.6"; end;
  if P28_7_1(was_phase, was_call_1) then error "P28.7"; end;
  if P34_3_1(was_phase) then error "P34.3"; end;
end;

rule "confirm item=briefing not-complete" (phase = phase_staging | phase = phase_racing) & journal =
    journal_ok ==>
begin
  ready := false;
  if P13_1_2() then error "P13.1"; end;
end;

rule "confirm item=briefing complete" (phase = phase_staging | phase = phase_racing) & journal = journal_ok
    ==>
begin
  ready := true;
  if P13_1_2() then error "P13.1"; end;
end;

rule "arm" !caution_at_unknown() & phase = phase_staging & journal = journal_ok & stop_desk !=
    stop_kind_incident & stop_E != stop_kind_equipment & head_h1 = head_health_ok & head_px1 = head_health_ok
    & monitor != monitor_health_lost & monitor != monitor_health_tripped & place_1 = spot_pit & ready &
    (entry_1 != entry_adult | call_1 != kart_call_disqualified) & entry_1 = entry_adult ==>
  var was_phase: phase_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  phase := (was_phase = phase_staging ? phase_armed : was_phase);
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_racing &
      stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost &
      monitor != monitor_health_tripped & ready & call_1 != kart_call_disqualified then error "P3.1"; end;
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & stop_desk != stop_kind_incident
      & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor != monitor_health_tripped &
      ready & call_1 != kart_call_disqualified & phase != phase_test & (((was_shows_h1 = aspect_red |
      was_shows_h1 = aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) &
      shows_h1() = aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 = aspect_yellow |
      was_shows_px1 = aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() = aspect_green))
      then error "P13.1"; end;
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & stop_desk != stop_kind_incident
      & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor != monitor_health_tripped &
      ready & call_1 != kart_call_disqualified & phase != phase_staging & phase != phase_armed & phase !=
      phase_closed then error "P20.3"; end;
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_test & stop_desk
      != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor !=
      monitor_health_tripped & ready & call_1 != kart_call_disqualified then error "P20.7"; end;
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_finishing &
      stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost &
      monitor != monitor_health_tripped & ready & call_1 != kart_call_disqualified then error "P20.10"; end;
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_closed &
      stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost &
      monitor != monitor_health_tripped & ready & call_1 != kart_call_disqualified then error "P20.11"; end;
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_staging &
      stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost &
      monitor != monitor_health_tripped & ready & call_1 != kart_call_disqualified & shows_h1() = was_shows_h1
      & shows_px1() = was_shows_px1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if !caution_at_unknown() & was_phase = phase_staging & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & stop_desk != stop_kind_incident
      & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor != monitor_health_tripped &
      ready & call_1 != kart_call_disqualified & phase != phase_armed then error "P34.5"; end;
end;

rule "disarm" phase = phase_armed ==>
  var was_phase: phase_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  phase := (was_phase = phase_armed ? phase_staging : was_phase);
  if P3_1_2(was_phase) then error "P3.1"; end;
  if P11_1_1(was_phase) then error "P11.1"; end;
  if P13_1_3(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_2(was_phase) then error "P14e.1"; end;
  if P18_1_1(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if P18_2_1(was_phase, was_limit_1) then error "P18.2"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_7_2(was_phase) then error "P20.7"; end;
  if P20_10_2(was_phase) then error "P20.10"; end;
  if P20_11_2(was_phase) then error "P20.11"; end;
  if P34_6_1(was_phase) then error "P34.6"; end;
end;

rule "start" !caution_at_unknown() & phase = phase_armed & journal = journal_ok & stop_desk !=
    stop_kind_incident & stop_E != stop_kind_equipment & head_h1 = head_health_ok & head_px1 = head_health_ok
    & monitor != monitor_health_lost & monitor != monitor_health_tripped & place_1 = spot_pit & ready &
    (entry_1 != entry_adult | call_1 != kart_call_disqualified) & entry_1 = entry_adult ==>
  var was_phase: phase_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  phase := (was_phase = phase_armed ? phase_racing : was_phase);
  if !caution_at_unknown() & was_phase = phase_armed & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & stop_desk != stop_kind_incident
      & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor != monitor_health_tripped &
      ready & call_1 != kart_call_disqualified & (monitor != monitor_health_ok | latch != latch_none) then
      error "P3.2"; end;
  if !caution_at_unknown() & was_phase = phase_armed & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & stop_desk != stop_kind_incident
      & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor != monitor_health_tripped &
      ready & call_1 != kart_call_disqualified & phase != phase_armed & phase != phase_staging & phase !=
      phase_racing then error "P20.4"; end;
  if !caution_at_unknown() & was_phase = phase_armed & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_test & stop_desk
      != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor !=
      monitor_health_tripped & ready & call_1 != kart_call_disqualified then error "P20.7"; end;
  if !caution_at_unknown() & was_phase = phase_armed & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_finishing &
      stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost &
      monitor != monitor_health_tripped & ready & call_1 != kart_call_disqualified then error "P20.10"; end;
  if !caution_at_unknown() & was_phase = phase_armed & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_closed &
      stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost &
      monitor != monitor_health_tripped & ready & call_1 != kart_call_disqualified then error "P20.11"; end;
  if !caution_at_unknown() & was_phase = phase_armed & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & phase = phase_armed & stop_desk
      != stop_kind_incident & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor !=
      monitor_health_tripped & ready & call_1 != kart_call_disqualified & shows_h1() = was_shows_h1 &
      shows_px1() = was_shows_px1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if !caution_at_unknown() & was_phase = phase_armed & journal = journal_ok & head_h1 = head_health_ok &
      head_px1 = head_health_ok & place_1 = spot_pit & entry_1 = entry_adult & stop_desk != stop_kind_incident
      & stop_E != stop_kind_equipment & monitor != monitor_health_lost & monitor != monitor_health_tripped &
      ready & call_1 != kart_call_disqualified & phase != phase_racing then error "P34.7"; end;
end;

rule "finish" phase = phase_racing ==>
  var was_phase: phase_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  phase := (was_phase = phase_racing ? phase_finishing : was_phase);
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if was_phase = phase_racing & was_call_1 = kart_call_disqualified & call_1 != kart_call_disqualified &
      place_1 != spot_pit then error "P6e.1"; end;
  if was_phase = phase_racing & phase = phase_closed & place_1 != spot_pit then error "P11.1"; end;
  if was_phase = phase_racing & phase != phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 =
      aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() =
      aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 =
      aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() = aspect_green)) then error
      "P13.1"; end;
  if was_phase = phase_racing & phase = phase_armed & (stop_desk = stop_kind_incident | stop_E =
      stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      caution_pit_E = caution_kind_equipment) then error "P14e.1"; end;
  if was_phase = phase_racing & phase != phase_test & ((!(shows_h1() <= was_shows_h1) & was_shows_h1 !=
      aspect_blue_flash) | (!(shows_px1() <= was_shows_px1) & was_shows_px1 != aspect_blue_flash)) then error
      "P18.1"; end;
  if was_phase = phase_racing & !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if was_phase = phase_racing & phase = phase_test then error "P20.7"; end;
  if was_phase = phase_racing & phase = phase_staging then error "P20.8"; end;
  if was_phase = phase_racing & phase = phase_armed then error "P20.9"; end;
  if was_phase = phase_racing & phase = phase_closed then error "P20.11"; end;
  if was_phase = phase_racing & call_1 = kart_call_disqualified & was_call_1 != kart_call_disqualified then
      error "P28.6"; end;
  if was_phase = phase_racing & call_1 = kart_call_move_over & was_call_1 != kart_call_move_over then error
      "P28.7"; end;
  if was_phase = phase_racing & phase != phase_finishing then error "P34.8"; end;
end;

rule "close" (phase = phase_staging | phase = phase_finishing) & journal = journal_ok & place_1 = spot_pit ==>
  var was_phase: phase_t;
  var was_ready: boolean;
  var was_entry_1: entry_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_ready := ready;
  was_entry_1 := entry_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  entry_1 := entry_none;
  ready := false;
  phase := (was_phase = phase_finishing ? phase_closed : (was_phase = phase_staging ? phase_closed :
      was_phase));
  if journal = journal_ok & place_1 = spot_pit & phase = phase_racing & (was_phase = phase_staging | was_phase
      = phase_finishing) & was_phase != phase_racing then error "P3.1"; end;
  if journal = journal_ok & place_1 = spot_pit & (was_phase = phase_staging | was_phase = phase_finishing) &
      was_phase != phase_test & phase != phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 =
      aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() =
      aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 =
      aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() = aspect_green)) then error
      "P13.1"; end;
  if journal = journal_ok & place_1 = spot_pit & phase = phase_armed & (was_phase = phase_staging | was_phase
      = phase_finishing) & (stop_desk = stop_kind_incident | stop_E = stop_kind_equipment | caution_s1_desk =
      caution_kind_incident | caution_s1_E = caution_kind_equipment | caution_pit_E = caution_kind_equipment)
      then error "P14e.1"; end;
  if P20_3_1(was_phase) then error "P20.3"; end;
  if P20_6_1(was_phase) then error "P20.6"; end;
  if journal = journal_ok & place_1 = spot_pit & phase = phase_test & (was_phase = phase_staging | was_phase =
      phase_finishing) & was_phase != phase_test then error "P20.7"; end;
  if journal = journal_ok & place_1 = spot_pit & phase = phase_staging & was_phase = phase_finishing then
      error "P20.8"; end;
  if journal = journal_ok & place_1 = spot_pit & phase = phase_armed & (was_phase = phase_staging | was_phase
      = phase_finishing) & was_phase != phase_armed then error "P20.9"; end;
  if journal = journal_ok & place_1 = spot_pit & phase = phase_finishing & was_phase = phase_staging then
      error "P20.10"; end;
  if journal = journal_ok & place_1 = spot_pit & !was_ready & (was_phase = phase_staging | was_phase =
      phase_finishing) & was_entry_1 != entry_adult & phase = was_phase & shows_h1() = was_shows_h1 &
      shows_px1() = was_shows_px1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if journal = journal_ok & place_1 = spot_pit & (was_phase = phase_staging | was_phase = phase_finishing) &
      phase != phase_closed then error "P34.9"; end;
end;

rule "stop kind=incident post=desk" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  stop_desk := stop_kind_incident;
  latch := (was_latch = latch_stop ? latch_stop : (was_latch = latch_recovery ? latch_stop : (was_latch =
      latch_none ? latch_stop : was_latch)));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "caution where=s1 kind=incident post=desk" true ==>
  var was_phase: phase_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  caution_s1_desk := caution_kind_incident;
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (place_1 = spot_s1 & was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "lift-stop placer=desk" journal = journal_ok & stop_desk = stop_kind_incident & monitor !=
    monitor_health_tripped ==>
  var was_latch: latch_t;
  var was_stop_desk: stop_kind_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_latch := latch;
  was_stop_desk := stop_desk;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  stop_desk := stop_kind_none;
  latch := (stop_E != stop_kind_equipment & was_latch = latch_stop ? latch_recovery : was_latch);
  if journal = journal_ok & was_stop_desk = stop_kind_incident & monitor != monitor_health_tripped & stop_E !=
      stop_kind_equipment & latch != latch_recovery then error "P4.1"; end;
  if journal = journal_ok & was_stop_desk = stop_kind_incident & was_latch = latch_recovery & monitor !=
      monitor_health_tripped & latch != latch_recovery & latch != latch_stop then error "P5.1"; end;
  if journal = journal_ok & was_stop_desk = stop_kind_incident & monitor != monitor_health_tripped & phase !=
      phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 = aspect_yellow | was_shows_h1 =
      aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() = aspect_green) | ((was_shows_px1 =
      aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 = aspect_yellow_flash | was_shows_px1 =
      aspect_red_yellow) & shows_px1() = aspect_green)) then error "P13.1"; end;
  if journal = journal_ok & was_stop_desk = stop_kind_incident & phase = phase_armed & monitor !=
      monitor_health_tripped & (stop_E = stop_kind_equipment | caution_s1_desk = caution_kind_incident |
      caution_s1_E = caution_kind_equipment | caution_pit_E = caution_kind_equipment) then error "P14e.1";
      end;
end;

rule "lift-stop placer=E" journal = journal_ok & stop_E = stop_kind_equipment & monitor !=
    monitor_health_tripped ==>
  var was_latch: latch_t;
  var was_stop_E: stop_kind_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_latch := latch;
  was_stop_E := stop_E;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  stop_E := stop_kind_none;
  latch := (stop_desk != stop_kind_incident & was_latch = latch_stop ? latch_recovery : was_latch);
  if journal = journal_ok & was_stop_E = stop_kind_equipment & monitor != monitor_health_tripped & stop_desk
      != stop_kind_incident & latch != latch_recovery then error "P4.1"; end;
  if journal = journal_ok & was_stop_E = stop_kind_equipment & was_latch = latch_recovery & monitor !=
      monitor_health_tripped & latch != latch_recovery & latch != latch_stop then error "P5.1"; end;
  if journal = journal_ok & was_stop_E = stop_kind_equipment & monitor != monitor_health_tripped & phase !=
      phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 = aspect_yellow | was_shows_h1 =
      aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() = aspect_green) | ((was_shows_px1 =
      aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 = aspect_yellow_flash | was_shows_px1 =
      aspect_red_yellow) & shows_px1() = aspect_green)) then error "P13.1"; end;
  if journal = journal_ok & was_stop_E = stop_kind_equipment & phase = phase_armed & monitor !=
      monitor_health_tripped & (stop_desk = stop_kind_incident | caution_s1_desk = caution_kind_incident |
      caution_s1_E = caution_kind_equipment | caution_pit_E = caution_kind_equipment) then error "P14e.1";
      end;
end;

rule "lift-caution where=s1 placer=desk" journal = journal_ok & caution_s1_desk = caution_kind_incident ==>
  var was_caution_s1_desk: caution_kind_t;
begin
  was_caution_s1_desk := caution_s1_desk;
  caution_s1_desk := caution_kind_none;
  if journal = journal_ok & was_caution_s1_desk = caution_kind_incident & phase = phase_armed & (stop_desk =
      stop_kind_incident | stop_E = stop_kind_equipment | caution_s1_E = caution_kind_equipment |
      caution_pit_E = caution_kind_equipment) then error "P14e.1"; end;
end;

rule "lift-caution where=s1 placer=E" journal = journal_ok & caution_s1_E = caution_kind_equipment & monitor
    != monitor_health_lost & monitor != monitor_health_tripped & head_h1 = head_health_ok & head_px1 =
    head_health_ok & place_1 != spot_unknown ==>
  var was_caution_s1_E: caution_kind_t;
begin
  was_caution_s1_E := caution_s1_E;
  caution_s1_E := caution_kind_none;
  if journal = journal_ok & was_caution_s1_E = caution_kind_equipment & head_h1 = head_health_ok & head_px1 =
      head_health_ok & monitor != monitor_health_lost & monitor != monitor_health_tripped & place_1 !=
      spot_unknown & monitor != monitor_health_ok then error "P5.13"; end;
  if journal = journal_ok & was_caution_s1_E = caution_kind_equipment & head_h1 = head_health_ok & head_px1 =
      head_health_ok & phase = phase_armed & monitor != monitor_health_lost & monitor !=
      monitor_health_tripped & place_1 != spot_unknown & (stop_desk = stop_kind_incident | stop_E =
      stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_pit_E = caution_kind_equipment)
      then error "P14e.1"; end;
end;

rule "lift-caution where=pit placer=E" journal = journal_ok & caution_pit_E = caution_kind_equipment & monitor
    != monitor_health_lost & monitor != monitor_health_tripped & place_1 != spot_unknown ==>
  var was_caution_pit_E: caution_kind_t;
begin
  was_caution_pit_E := caution_pit_E;
  caution_pit_E := caution_kind_none;
  if journal = journal_ok & was_caution_pit_E = caution_kind_equipment & monitor != monitor_health_lost &
      monitor != monitor_health_tripped & place_1 != spot_unknown & monitor != monitor_health_ok then error
      "P5.13"; end;
  if journal = journal_ok & was_caution_pit_E = caution_kind_equipment & phase = phase_armed & monitor !=
      monitor_health_lost & monitor != monitor_health_tripped & place_1 != spot_unknown & (stop_desk =
      stop_kind_incident | stop_E = stop_kind_equipment | caution_s1_desk = caution_kind_incident |
      caution_s1_E = caution_kind_equipment) then error "P14e.1"; end;
end;

rule "clear" journal = journal_ok & latch != latch_none & caution_s1_desk != caution_kind_incident &
    caution_s1_E != caution_kind_equipment & caution_pit_E != caution_kind_equipment & stop_desk !=
    stop_kind_incident & stop_E != stop_kind_equipment & head_h1 = head_health_ok & head_px1 = head_health_ok
    & monitor != monitor_health_lost & monitor != monitor_health_tripped ==>
  var was_latch: latch_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_latch := latch;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  latch := (was_latch = latch_recovery ? latch_none : was_latch);
  if journal = journal_ok & head_h1 = head_health_ok & head_px1 = head_health_ok & was_latch != latch_none &
      caution_s1_desk != caution_kind_incident & caution_s1_E != caution_kind_equipment & caution_pit_E !=
      caution_kind_equipment & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor !=
      monitor_health_lost & monitor != monitor_health_tripped & latch = was_latch & shows_h1() = was_shows_h1
      & shows_px1() = was_shows_px1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if (journal = journal_ok & head_h1 = head_health_ok & head_px1 = head_health_ok & was_latch != latch_none &
      caution_s1_desk != caution_kind_incident & caution_s1_E != caution_kind_equipment & caution_pit_E !=
      caution_kind_equipment & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor !=
      monitor_health_lost & monitor != monitor_health_tripped & (was_latch != latch_recovery | monitor !=
      monitor_health_ok)) | (journal = journal_ok & head_h1 = head_health_ok & head_px1 = head_health_ok &
      was_latch != latch_none & caution_s1_desk != caution_kind_incident & caution_s1_E !=
      caution_kind_equipment & caution_pit_E != caution_kind_equipment & stop_desk != stop_kind_incident &
      stop_E != stop_kind_equipment & entry_1 != entry_adult & place_1 = spot_pit & monitor !=
      monitor_health_lost & monitor != monitor_health_tripped & (was_latch != latch_recovery | monitor !=
      monitor_health_ok | entry_1 = entry_adult | place_1 != spot_pit)) then error "P27.1"; end;
  if journal = journal_ok & head_h1 = head_health_ok & head_px1 = head_health_ok & was_latch != latch_none &
      caution_s1_desk != caution_kind_incident & caution_s1_E != caution_kind_equipment & caution_pit_E !=
      caution_kind_equipment & stop_desk != stop_kind_incident & stop_E != stop_kind_equipment & monitor !=
      monitor_health_lost & monitor != monitor_health_tripped & latch != latch_none then error "P34.10"; end;
end;

rule "move-over-one kart=1" pit_open() & journal = journal_ok & place_1 != spot_pit & place_1 != spot_unknown
    & call_1 != kart_call_move_over & call_1 != kart_call_disqualified & (place_1 != spot_s1 |
    !cautioned_s1()) ==>
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_limit_1 := limit_1();
  call_1 := (was_call_1 = kart_call_none ? kart_call_move_over : was_call_1);
  if pit_open() & journal = journal_ok & place_1 != spot_pit & place_1 != spot_unknown & was_call_1 !=
      kart_call_move_over & was_call_1 != kart_call_disqualified & (place_1 != spot_s1 | (caution_s1_desk !=
      caution_kind_incident & caution_s1_E != caution_kind_equipment)) & (((was_shows_h1 = aspect_red |
      was_shows_h1 = aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) &
      shows_h1() = aspect_green) | ((shows_px1() = aspect_red | shows_px1() = aspect_yellow | shows_px1() =
      aspect_yellow_flash | shows_px1() = aspect_red_yellow) & shows_px1() = aspect_green)) then error
      "P13.1"; end;
  if pit_open() & journal = journal_ok & place_1 != spot_pit & place_1 != spot_unknown & was_call_1 !=
      kart_call_move_over & was_call_1 != kart_call_disqualified & (place_1 != spot_s1 | (caution_s1_desk !=
      caution_kind_incident & caution_s1_E != caution_kind_equipment)) & call_1 = was_call_1 & shows_h1() =
      was_shows_h1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if pit_open() & journal = journal_ok & call_1 = kart_call_disqualified & place_1 != spot_pit & place_1 !=
      spot_unknown & was_call_1 != kart_call_move_over & was_call_1 != kart_call_disqualified & (place_1 !=
      spot_s1 | (caution_s1_desk != caution_kind_incident & caution_s1_E != caution_kind_equipment)) then
      error "P28.6"; end;
  if pit_open() & journal = journal_ok & place_1 != spot_pit & place_1 != spot_unknown & was_call_1 !=
      kart_call_move_over & was_call_1 != kart_call_disqualified & (place_1 != spot_s1 | (caution_s1_desk !=
      caution_kind_incident & caution_s1_E != caution_kind_equipment)) & call_1 != kart_call_move_over then
      error "P34.15"; end;
end;

rule "withdraw-one kart=1" journal = journal_ok & call_1 = kart_call_move_over ==>
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_limit_1 := limit_1();
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if journal = journal_ok & was_call_1 = kart_call_move_over & phase != phase_test & (((was_shows_h1 =
      aspect_red | was_shows_h1 = aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 =
      aspect_red_yellow) & shows_h1() = aspect_green) | ((shows_px1() = aspect_red | shows_px1() =
      aspect_yellow | shows_px1() = aspect_yellow_flash | shows_px1() = aspect_red_yellow) & shows_px1() =
      aspect_green)) then error "P13.1"; end;
  if journal = journal_ok & was_call_1 = kart_call_move_over & phase = phase_armed & (stop_desk =
      stop_kind_incident | stop_E = stop_kind_equipment | caution_s1_desk = caution_kind_incident |
      caution_s1_E = caution_kind_equipment | caution_pit_E = caution_kind_equipment) then error "P14e.1";
      end;
  if journal = journal_ok & was_call_1 = kart_call_move_over & call_1 = kart_call_move_over & shows_h1() =
      was_shows_h1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if journal = journal_ok & was_call_1 = kart_call_move_over & call_1 = kart_call_disqualified then error
      "P28.6"; end;
  if journal = journal_ok & was_call_1 = kart_call_move_over & call_1 = kart_call_move_over then error
      "P34.17"; end;
end;

rule "disqualify-one kart=1" phase = phase_staging | phase = phase_armed | phase = phase_racing | phase =
    phase_finishing ==>
  var was_phase: phase_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  call_1 := (was_call_1 = kart_call_disqualified ? kart_call_disqualified : (was_call_1 = kart_call_move_over
      ? kart_call_disqualified : (was_call_1 = kart_call_none ? kart_call_disqualified : was_call_1)));
  phase := (was_phase = phase_armed ? phase_staging : was_phase);
  if phase = phase_racing & (was_phase = phase_staging | was_phase = phase_armed | was_phase =
      phase_finishing) & was_phase != phase_racing then error "P3.1"; end;
  if was_call_1 = kart_call_disqualified & (was_phase = phase_staging | was_phase = phase_armed | was_phase =
      phase_racing | was_phase = phase_finishing) & call_1 != kart_call_disqualified & place_1 != spot_pit
      then error "P6e.1"; end;
  if phase = phase_closed & (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing |
      was_phase = phase_finishing) & was_phase != phase_closed & place_1 != spot_pit then error "P11.1"; end;
  if (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing | was_phase =
      phase_finishing) & was_phase != phase_test & phase != phase_test & (((was_shows_h1 = aspect_red |
      was_shows_h1 = aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) &
      shows_h1() = aspect_green) | ((was_shows_px1 = aspect_red | was_shows_px1 = aspect_yellow |
      was_shows_px1 = aspect_yellow_flash | was_shows_px1 = aspect_red_yellow) & shows_px1() = aspect_green))
      then error "P13.1"; end;
  if phase = phase_armed & (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing |
      was_phase = phase_finishing) & (stop_desk = stop_kind_incident | stop_E = stop_kind_equipment |
      caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment | caution_pit_E =
      caution_kind_equipment) then error "P14e.1"; end;
  if (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing | was_phase =
      phase_finishing) & was_phase != phase_test & phase != phase_test & ((!(shows_h1() <= was_shows_h1) &
      was_shows_h1 != aspect_blue_flash) | (!(shows_px1() <= was_shows_px1) & was_shows_px1 !=
      aspect_blue_flash)) then error "P18.1"; end;
  if (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing | was_phase =
      phase_finishing) & !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if phase = phase_test & (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing |
      was_phase = phase_finishing) & was_phase != phase_test then error "P20.7"; end;
  if phase = phase_staging & (was_phase = phase_racing | was_phase = phase_finishing) & was_phase !=
      phase_staging & was_phase != phase_armed then error "P20.8"; end;
  if phase = phase_armed & (was_phase = phase_staging | was_phase = phase_racing | was_phase =
      phase_finishing) & was_phase != phase_armed then error "P20.9"; end;
  if phase = phase_finishing & (was_phase = phase_staging | was_phase = phase_armed | was_phase =
      phase_racing) & was_phase != phase_finishing then error "P20.10"; end;
  if phase = phase_closed & (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing |
      was_phase = phase_finishing) & was_phase != phase_closed & was_phase != phase_test then error "P20.11";
      end;
  if call_1 = kart_call_move_over & (was_phase = phase_staging | was_phase = phase_armed | was_phase =
      phase_racing | was_phase = phase_finishing) & was_call_1 != kart_call_move_over then error "P28.7"; end;
  if (was_phase = phase_staging | was_phase = phase_armed | was_phase = phase_racing | was_phase =
      phase_finishing) & call_1 != kart_call_disqualified then error "P34.18"; end;
end;

rule "requalify kart=1" journal = journal_ok & place_1 = spot_pit & call_1 = kart_call_disqualified ==>
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_limit_1 := limit_1();
  call_1 := (was_call_1 = kart_call_disqualified ? kart_call_none : was_call_1);
  if journal = journal_ok & place_1 = spot_pit & was_call_1 = kart_call_disqualified & phase != phase_test &
      (((was_shows_h1 = aspect_red | was_shows_h1 = aspect_yellow | was_shows_h1 = aspect_yellow_flash |
      was_shows_h1 = aspect_red_yellow) & shows_h1() = aspect_green) | ((shows_px1() = aspect_red |
      shows_px1() = aspect_yellow | shows_px1() = aspect_yellow_flash | shows_px1() = aspect_red_yellow) &
      shows_px1() = aspect_green)) then error "P13.1"; end;
  if journal = journal_ok & place_1 = spot_pit & was_call_1 = kart_call_disqualified & phase = phase_armed &
      (stop_desk = stop_kind_incident | stop_E = stop_kind_equipment | caution_s1_desk = caution_kind_incident
      | caution_s1_E = caution_kind_equipment | caution_pit_E = caution_kind_equipment) then error "P14e.1";
      end;
  if journal = journal_ok & place_1 = spot_pit & was_call_1 = kart_call_disqualified & call_1 =
      kart_call_disqualified & shows_h1() = was_shows_h1 & limit_1() = was_limit_1 then error "P21.1"; end;
  if journal = journal_ok & place_1 = spot_pit & was_call_1 = kart_call_disqualified & call_1 =
      kart_call_move_over then error "P28.7"; end;
  if journal = journal_ok & place_1 = spot_pit & was_call_1 = kart_call_disqualified & call_1 !=
      kart_call_none then error "P34.19"; end;
end;

rule "button-reset kart=1" journal = journal_ok ==>
begin
  if journal = journal_ok & phase != phase_test & (((shows_h1() = aspect_red | shows_h1() = aspect_yellow |
      shows_h1() = aspect_yellow_flash | shows_h1() = aspect_red_yellow) & shows_h1() = aspect_green) |
      ((shows_px1() = aspect_red | shows_px1() = aspect_yellow | shows_px1() = aspect_yellow_flash |
      shows_px1() = aspect_red_yellow) & shows_px1() = aspect_green)) then error "P13.1"; end;
  if journal = journal_ok & phase = phase_armed & (stop_desk = stop_kind_incident | stop_E =
      stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      caution_pit_E = caution_kind_equipment) then error "P14e.1"; end;
end;

rule "head-lost head=h1" true ==>
  var was_phase: phase_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  head_h1 := head_health_lost;
  caution_s1_E := caution_kind_equipment;
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (place_1 = spot_s1 & was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "head-lost head=px1" true ==>
  var was_phase: phase_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  head_px1 := head_health_lost;
  caution_s1_E := caution_kind_equipment;
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (place_1 = spot_s1 & was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "head-back head=h1" true ==>
  var was_head_h1: head_health_t;
begin
  was_head_h1 := head_h1;
  head_h1 := (was_head_h1 != head_health_ok ? head_health_ok : was_head_h1);
  if P13_1_5() then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
  if head_h1 = head_health_lost then error "P34.43"; end;
end;

rule "head-back head=px1" true ==>
  var was_head_px1: head_health_t;
  var was_shows_px1: aspect_t;
begin
  was_head_px1 := head_px1;
  was_shows_px1 := shows_px1();
  head_px1 := (was_head_px1 != head_health_ok ? head_health_ok : was_head_px1);
  if phase != phase_test & (((shows_h1() = aspect_red | shows_h1() = aspect_yellow | shows_h1() =
      aspect_yellow_flash | shows_h1() = aspect_red_yellow) & shows_h1() = aspect_green) | ((was_shows_px1 =
      aspect_red | was_shows_px1 = aspect_yellow | was_shows_px1 = aspect_yellow_flash | was_shows_px1 =
      aspect_red_yellow) & shows_px1() = aspect_green)) then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
  if head_px1 = head_health_lost then error "P34.43"; end;
end;

rule "kart-lost kart=1" true ==>
  var was_phase: phase_t;
  var was_caution_s1_E: caution_kind_t;
  var was_caution_pit_E: caution_kind_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_caution_s1_E := caution_s1_E;
  was_caution_pit_E := caution_pit_E;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  place_1 := (was_place_1 = spot_pit ? was_place_1 : spot_unknown);
  caution_s1_E := (was_place_1 != spot_pit ? caution_kind_equipment : was_caution_s1_E);
  caution_pit_E := (was_place_1 != spot_pit ? caution_kind_equipment : was_caution_pit_E);
  phase := (was_place_1 != spot_pit & was_phase = phase_test ? phase_closed : (was_phase = phase_armed ?
      phase_staging : was_phase));
  call_1 := (was_place_1 != spot_pit & was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if phase = phase_armed then error "P14.4"; end;
  if was_place_1 != spot_pit & place_1 != spot_unknown then error "P15.16"; end;
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P5_4_1(was_caution_s1_E, was_caution_pit_E) then error "P5.4"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if was_place_1 = spot_pit & place_1 != spot_pit & place_1 != spot_unknown & place_1 != spot_aside &
      (was_phase != phase_racing | latch != latch_none) & stop_E != stop_kind_equipment then error "P12e.1";
      end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_4() then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-back kart=1" true ==>
begin
  if P13_1_5() then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
end;

rule "kart-at kart=1 where=s1 not-button[1] not-moving[1]" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_stop_E: stop_kind_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_stop_E := stop_E;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_s1;
  stop_E := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) ?
      stop_kind_equipment : was_stop_E);
  latch := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) & was_latch =
      latch_recovery ? latch_stop : (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch !=
      latch_none) & was_latch = latch_none ? latch_stop : was_latch));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (((was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none)) | was_latch =
      latch_recovery | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      was_latch != latch_none) & was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P4_1_1(was_phase, was_stop_E) then error "P4.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P5_2_1(was_stop_E) then error "P5.2"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if P12e_1_1(was_phase, was_latch, was_place_1) then error "P12e.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_5() then error "P14e.1"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-at kart=1 where=s1 not-button[1] moving[1]" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_stop_E: stop_kind_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_stop_E := stop_E;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_s1;
  stop_E := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) ?
      stop_kind_equipment : was_stop_E);
  latch := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) & was_latch =
      latch_recovery ? latch_stop : (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch !=
      latch_none) & was_latch = latch_none ? latch_stop : was_latch));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (((was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none)) | was_latch =
      latch_recovery | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      was_latch != latch_none) & was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P4_1_1(was_phase, was_stop_E) then error "P4.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P5_2_1(was_stop_E) then error "P5.2"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if P12e_1_1(was_phase, was_latch, was_place_1) then error "P12e.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_5() then error "P14e.1"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-at kart=1 where=s1 button[1] not-moving[1]" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_stop_E: stop_kind_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_stop_E := stop_E;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_s1;
  stop_E := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) ?
      stop_kind_equipment : was_stop_E);
  caution_s1_E := caution_kind_equipment;
  latch := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) & was_latch =
      latch_recovery ? latch_stop : (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch !=
      latch_none) & was_latch = latch_none ? latch_stop : was_latch));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P4_1_1(was_phase, was_stop_E) then error "P4.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P5_2_1(was_stop_E) then error "P5.2"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if P12e_1_1(was_phase, was_latch, was_place_1) then error "P12e.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-at kart=1 where=s1 button[1] moving[1]" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_stop_E: stop_kind_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_stop_E := stop_E;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_s1;
  stop_E := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) ?
      stop_kind_equipment : was_stop_E);
  caution_s1_E := caution_kind_equipment;
  latch := (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch != latch_none) & was_latch =
      latch_recovery ? latch_stop : (was_place_1 = spot_pit & (was_phase != phase_racing | was_latch !=
      latch_none) & was_latch = latch_none ? latch_stop : was_latch));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P4_1_1(was_phase, was_stop_E) then error "P4.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P5_2_1(was_stop_E) then error "P5.2"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if P12e_1_1(was_phase, was_latch, was_place_1) then error "P12e.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-at kart=1 where=pit not-button[1] not-moving[1]" true ==>
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_pit;
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P13_1_6(was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-at kart=1 where=pit not-button[1] moving[1]" true ==>
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_pit;
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P13_1_6(was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-at kart=1 where=pit button[1] not-moving[1]" true ==>
  var was_phase: phase_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_pit;
  caution_pit_E := caution_kind_equipment;
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-at kart=1 where=pit button[1] moving[1]" true ==>
  var was_phase: phase_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
begin
  was_phase := phase;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  place_1 := spot_pit;
  caution_pit_E := caution_kind_equipment;
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "kart-pressed kart=1" true ==>
  var was_phase: phase_t;
  var was_caution_s1_E: caution_kind_t;
  var was_caution_pit_E: caution_kind_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_caution_s1_E := caution_s1_E;
  was_caution_pit_E := caution_pit_E;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  caution_s1_E := (place_1 = spot_s1 | place_1 = spot_unknown ? caution_kind_equipment : was_caution_s1_E);
  caution_pit_E := (place_1 = spot_pit | place_1 = spot_unknown ? caution_kind_equipment : was_caution_pit_E);
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if ((place_1 = spot_s1 | place_1 = spot_unknown) & caution_s1_E = caution_kind_none) | ((place_1 = spot_pit
      | place_1 = spot_unknown) & caution_pit_E = caution_kind_none) then error "P15.4"; end;
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P5_4_1(was_caution_s1_E, was_caution_pit_E) then error "P5.4"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_4() then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(kmh_0 <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "monitor-lost" true ==>
  var was_phase: phase_t;
  var was_monitor: monitor_health_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_monitor := monitor;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  monitor := (was_monitor = monitor_health_ok ? monitor_health_lost : was_monitor);
  caution_s1_E := caution_kind_equipment;
  caution_pit_E := caution_kind_equipment;
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if monitor = monitor_health_ok then error "P15.13"; end;
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "monitor-back" true ==>
  var was_monitor: monitor_health_t;
begin
  was_monitor := monitor;
  monitor := (was_monitor = monitor_health_lost ? monitor_health_ok : was_monitor);
  if P13_1_5() then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
  if monitor = monitor_health_lost then error "P34.44"; end;
end;

rule "monitor-tripped" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  monitor := monitor_health_tripped;
  stop_E := stop_kind_equipment;
  caution_s1_E := caution_kind_equipment;
  caution_pit_E := caution_kind_equipment;
  latch := (was_latch = latch_stop ? latch_stop : (was_latch = latch_recovery ? latch_stop : (was_latch =
      latch_none ? latch_stop : was_latch)));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "monitor-reset" true ==>
  var was_monitor: monitor_health_t;
begin
  was_monitor := monitor;
  monitor := (was_monitor = monitor_health_tripped ? monitor_health_ok : was_monitor);
  if P13_1_5() then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
  if monitor = monitor_health_tripped then error "P34.45"; end;
end;

rule "broker-lost" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  stop_E := stop_kind_equipment;
  latch := (was_latch = latch_stop ? latch_stop : (was_latch = latch_recovery ? latch_stop : (was_latch =
      latch_none ? latch_stop : was_latch)));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "foreign-controller" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  stop_E := stop_kind_equipment;
  latch := (was_latch = latch_stop ? latch_stop : (was_latch = latch_recovery ? latch_stop : (was_latch =
      latch_none ? latch_stop : was_latch)));
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P6e_1_1(was_call_1) then error "P6e.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "journal-failed" true ==>
  var was_phase: phase_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  journal := journal_failed;
  phase := (was_phase = phase_armed ? phase_staging : was_phase);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P11_1_2(was_phase) then error "P11.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
end;

rule "journal-back" true ==>
begin
  journal := journal_ok;
  if P13_1_5() then error "P13.1"; end;
  if P14e_1_3() then error "P14e.1"; end;
end;

rule "restart" true ==>
  var was_phase: phase_t;
  var was_latch: latch_t;
  var was_stop_E: stop_kind_t;
  var was_caution_s1_E: caution_kind_t;
  var was_caution_pit_E: caution_kind_t;
  var was_place_1: spot_t;
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_latch := latch;
  was_stop_E := stop_E;
  was_caution_s1_E := caution_s1_E;
  was_caution_pit_E := caution_pit_E;
  was_place_1 := place_1;
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  phase := (was_phase = phase_test ? phase_closed : (was_phase = phase_armed ? phase_staging : was_phase));
  ready := false;
  latch := (was_phase != phase_closed & was_phase != phase_test ? latch_stop : was_latch);
  stop_E := (was_phase = phase_closed | was_phase = phase_test ? was_stop_E : stop_kind_equipment);
  caution_s1_E := (was_phase = phase_closed | was_phase = phase_test ? was_caution_s1_E :
      caution_kind_equipment);
  caution_pit_E := (was_phase = phase_closed | was_phase = phase_test ? was_caution_pit_E :
      caution_kind_equipment);
  place_1 := (was_phase != phase_closed & was_phase != phase_test ? spot_unknown : was_place_1);
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if P3_1_3(was_phase) then error "P3.1"; end;
  if P4_1_1(was_phase, was_stop_E) then error "P4.1"; end;
  if P5_1_1(was_latch) then error "P5.1"; end;
  if P5_2_1(was_stop_E) then error "P5.2"; end;
  if P5_4_1(was_caution_s1_E, was_caution_pit_E) then error "P5.4"; end;
  if P6e_1_2(was_place_1, was_call_1) then error "P6e.1"; end;
  if P11_1_3(was_phase, was_place_1) then error "P11.1"; end;
  if was_place_1 = spot_pit & stop_E = stop_kind_none & place_1 != spot_pit & place_1 != spot_unknown &
      place_1 != spot_aside & (was_phase != phase_racing | was_latch != latch_none) then error "P12e.1"; end;
  if P13_1_4(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if phase = phase_armed & (stop_desk = stop_kind_incident | stop_E != stop_kind_none | caution_s1_desk =
      caution_kind_incident | caution_s1_E != caution_kind_none | caution_pit_E != caution_kind_none) then
      error "P14e.1"; end;
  if (was_stop_E = stop_kind_equipment & stop_E = stop_kind_none) | (was_caution_s1_E = caution_kind_equipment
      & caution_s1_E = caution_kind_none) | (was_caution_pit_E = caution_kind_equipment & caution_pit_E =
      caution_kind_none) | (was_call_1 = kart_call_disqualified & call_1 != kart_call_disqualified) |
      (was_latch != latch_none & latch = latch_none) then error "P16.1"; end;
  if was_phase != phase_closed & was_phase != phase_test & (stop_E = stop_kind_none | place_1 != spot_unknown)
      then error "P16.3"; end;
  if P18_1_2(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if !(limit_1() <= was_limit_1) then error "P18.2"; end;
  if P20_1_2(was_phase) then error "P20.1"; end;
  if P20_2_1(was_phase) then error "P20.2"; end;
  if P20_3_2(was_phase) then error "P20.3"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_5_1(was_phase) then error "P20.5"; end;
  if P20_6_2(was_phase) then error "P20.6"; end;
  if P20_7_3(was_phase) then error "P20.7"; end;
  if P20_8_1(was_phase) then error "P20.8"; end;
  if P20_9_2(was_phase) then error "P20.9"; end;
  if P20_10_3(was_phase) then error "P20.10"; end;
  if P20_11_3(was_phase) then error "P20.11"; end;
  if P28_6_2(was_call_1) then error "P28.6"; end;
  if P28_7_2(was_call_1) then error "P28.7"; end;
end;

rule "armed-expired" phase = phase_armed ==>
  var was_phase: phase_t;
  var was_shows_h1: aspect_t;
  var was_shows_px1: aspect_t;
  var was_limit_1: kmh_t;
begin
  was_phase := phase;
  was_shows_h1 := shows_h1();
  was_shows_px1 := shows_px1();
  was_limit_1 := limit_1();
  phase := (was_phase = phase_armed ? phase_staging : was_phase);
  if P3_1_2(was_phase) then error "P3.1"; end;
  if P11_1_1(was_phase) then error "P11.1"; end;
  if P13_1_3(was_phase, was_shows_h1, was_shows_px1) then error "P13.1"; end;
  if P14e_1_2(was_phase) then error "P14e.1"; end;
  if P18_1_1(was_phase, was_shows_h1, was_shows_px1) then error "P18.1"; end;
  if P18_2_1(was_phase, was_limit_1) then error "P18.2"; end;
  if P20_4_1(was_phase) then error "P20.4"; end;
  if P20_7_2(was_phase) then error "P20.7"; end;
  if P20_10_2(was_phase) then error "P20.10"; end;
  if P20_11_2(was_phase) then error "P20.11"; end;
  if P34_6_1(was_phase) then error "P34.6"; end;
end;

rule "move-over-expired kart=1" call_1 = kart_call_move_over ==>
  var was_call_1: kart_call_t;
  var was_shows_h1: aspect_t;
begin
  was_call_1 := call_1;
  was_shows_h1 := shows_h1();
  call_1 := (was_call_1 = kart_call_move_over ? kart_call_none : was_call_1);
  if was_call_1 = kart_call_move_over & phase != phase_test & (((was_shows_h1 = aspect_red | was_shows_h1 =
      aspect_yellow | was_shows_h1 = aspect_yellow_flash | was_shows_h1 = aspect_red_yellow) & shows_h1() =
      aspect_green) | ((shows_px1() = aspect_red | shows_px1() = aspect_yellow | shows_px1() =
      aspect_yellow_flash | shows_px1() = aspect_red_yellow) & shows_px1() = aspect_green)) then error
      "P13.1"; end;
  if was_call_1 = kart_call_move_over & phase = phase_armed & (stop_desk = stop_kind_incident | stop_E =
      stop_kind_equipment | caution_s1_desk = caution_kind_incident | caution_s1_E = caution_kind_equipment |
      caution_pit_E = caution_kind_equipment) then error "P14e.1"; end;
  if was_call_1 = kart_call_move_over & call_1 = kart_call_disqualified then error "P28.6"; end;
  if was_call_1 = kart_call_move_over & call_1 = kart_call_move_over then error "P34.16"; end;
end;
